// What the image costs, held to its budget and printed: flash, memory, instructions, latency, load.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { Bench, MS, PIN, S } from './bench.mjs';
import { sizes } from './elf.mjs';
import { tell } from './figures.mjs';

const KIB = 1024;
const BUDGET = { flash: 64 * KIB, ram: 80 * KIB, stack: 16 * KIB, instructions: 3000, latencyUs: 4, load: 0.4 };
const EXCEPTION = { link: 21, pins: 29, tick: 16, converter: 39 };

test('flash and static memory', () => {
  const bench = new Bench();
  const { flash, ram } = sizes(bench.elf);
  tell(`flash ${(flash / KIB).toFixed(1)} KiB of ${BUDGET.flash / KIB}, static memory ${(ram / KIB).toFixed(1)} KiB of ${BUDGET.ram / KIB}`);
  assert.ok(flash <= BUDGET.flash && ram <= BUDGET.ram);
});

test('stack, over a start, self-tests, a record written and a stream', () => {
  const bench = new Bench();
  bench.connect();
  for (const test of ['Noise', 'OpenBridge', 'Supply', 'Temperature']) bench.ask({ SelfTest: test });
  bench.ask({
    WriteCalibration: {
      id: Array(16).fill(1), channel: 'Force', coefficients: [1, 0.0125, 1e-9, 1e-15], zero_counts: -350,
      expanded_relative: 0.005, expanded_fixed: 10, span: [1000, 25000], rated: 30000, temperature_c: 20.5,
      date_days: 20000, due_days: 20365, certificate: 'x'.repeat(32), laboratory: 'y'.repeat(32),
    },
  });
  bench.ask({ ReadCalibration: 'Force' });
  bench.ask('ReadOverloads');
  bench.start(2000, { force: true, displacement: true, mark: true, indicator: true });
  bench.probe.move(20_000);
  for (let turn = 1; turn < 20; turn++) bench.mark.pass(bench.nowNs + turn * 50 * MS);
  bench.stream(1 * S);
  bench.ask('Stop');
  const used = bench.chip.stackUsed(bench.elf);
  tell(`deepest stack ${(used / KIB).toFixed(1)} KiB of ${BUDGET.stack / KIB}`);
  assert.ok(used > 1 * KIB && used <= BUDGET.stack, `${used} bytes`);
});

test('instructions a sample', () => {
  const bench = new Bench();
  bench.connect();
  bench.start(1000, { force: true, displacement: true });
  const before = bench.chip.work.byException.slice();
  const taken = bench.adc.readings;
  bench.stream(2 * S);
  const samples = bench.adc.readings - taken;
  const per = (name) => (bench.chip.work.byException[EXCEPTION[name]] - before[EXCEPTION[name]]) / samples;
  const path = per('pins') + per('converter');
  tell(`instructions a sample: stamp ${per('pins').toFixed(0)}, read ${per('converter').toFixed(0)}, ` +
    `block, frame and USB ${per('link').toFixed(0)}`);
  assert.ok(path > 100 && path <= BUDGET.instructions, `${path}`);
});

test('latency and load at 2 kHz and 20 000 edges a second', () => {
  const bench = new Bench();
  bench.connect();
  bench.start(2000, { force: true, displacement: true, mark: true });
  bench.probe.move(20_000);
  for (let turn = 0; turn < 90; turn++) bench.mark.pass(bench.nowNs + 10 * MS + turn * 21.123457 * MS);
  const late = bench.watchStamps([PIN.dataReady, PIN.mark]);
  const [asleep, from] = [bench.chip.work.asleepNs, bench.nowNs];
  bench.stream(2 * S);
  const load = 1 - (bench.chip.work.asleepNs - asleep) / (bench.nowNs - from);
  const worstUs = Math.max(...late) / 1e3;
  tell(`load ${(100 * load).toFixed(1)} % of ${100 * BUDGET.load}; of ${late.length} stamps the latest ` +
    `${worstUs.toFixed(2)} µs, the earliest ${(Math.min(...late) / 1e3).toFixed(2)} µs after the edge`);
  assert.ok(late.length > 4000);
  assert.ok(load > 0.01 && load <= BUDGET.load);
  assert.ok(worstUs <= BUDGET.latencyUs);
  assert.equal(bench.heard().of('Fault').length, 0);
});
