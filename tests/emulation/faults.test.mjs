// What goes wrong at the gauge is said in the stream, and said again when it is over; a program that stops is restarted.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { Bench, MS, S, US } from './bench.mjs';
import { tell } from './figures.mjs';

const BIT = { AdcSilent: 1, OpenBridge: 2, Saturated: 4 };

function streaming() {
  const bench = new Bench();
  bench.connect();
  bench.start(1000, { force: true });
  bench.forget();
  bench.stream(200 * MS);
  return bench;
}

const faults = (bench) => bench.heard().of('Fault').map(({ fault, active }) => `${fault} ${active ? 'begins' : 'ends'}`);
const marked = (bench, bit) =>
  bench.heard().frames.filter(({ message }) => message.Block && message.Block.faults & bit).flatMap(({ samples }) => samples);

test('a saturated converter: the samples are marked, and it ends', () => {
  const bench = streaming();
  bench.adc.counts = () => 0x7fffff;
  bench.stream(60 * MS);
  bench.adc.counts = () => 1000;
  bench.stream(200 * MS);
  assert.deepEqual(faults(bench), ['Saturated begins', 'Saturated ends']);
  const samples = bench.heard().samples;
  const ends = samples.filter((sample) => sample.force === 0x7fffff);
  const numbers = new Set(marked(bench, BIT.Saturated).map((sample) => sample.number));
  assert.ok(ends.length > 50);
  assert.ok(ends.every((sample) => numbers.has(sample.number)), 'every sample at the end of the range is marked');
  assert.ok(numbers.size <= ends.length + 25, 'and few others');
});

test('a bridge wire that opens in mid-stream is found and told, and told when mended', () => {
  const bench = streaming();
  bench.adc.bridge.open = 'signal';
  bench.stream(2 * S);
  assert.ok(faults(bench).includes('OpenBridge begins'), faults(bench).join());
  bench.adc.bridge.open = null;
  bench.stream(3 * S);
  assert.equal(faults(bench).at(-1), 'OpenBridge ends');
  assert.deepEqual(bench.adc.faults, []);
});

test('a supply wire open for 0.3 s, which saturates nothing, is found within some samples', () => {
  const bench = streaming();
  bench.adc.bridge.ratio = () => 1e-3;
  bench.stream(500 * MS);
  const level = bench.heard().samples.at(-1).force;
  assert.ok(Math.abs(level - 128 * 2 ** 23 * 1e-3) < 1000, `${level}`);
  bench.forget();
  bench.adc.bridge.open = 'supply';
  bench.stream(300 * MS);
  bench.adc.bridge.open = null;
  bench.stream(2 * S);
  assert.deepEqual(faults(bench), ['OpenBridge begins', 'OpenBridge ends']);
  const numbers = new Set(marked(bench, BIT.OpenBridge).map((sample) => sample.number));
  const gone = bench.heard().samples.filter((sample) => Math.abs(sample.force) < level / 2);
  const unmarked = gone.filter((sample) => !numbers.has(sample.number)).length;
  tell(`supply wire open for 0.3 s: ${gone.length} samples without force, ${unmarked} of them before it was found`);
  assert.ok(gone.length > 250 && unmarked >= 1 && unmarked <= 4);
  assert.deepEqual(bench.adc.faults, []);
});

test('a bridge open at the start is told with the first sample', () => {
  const bench = new Bench();
  bench.adc.bridge.open = 'supply';
  bench.connect();
  bench.start(1000, { force: true });
  bench.stream(300 * MS);
  assert.equal(faults(bench)[0], 'OpenBridge begins');
  assert.ok(marked(bench, BIT.OpenBridge).some((sample) => sample.number === 0));
});

test('a converter that falls silent is told, revived when it answers again, and the numbers tell the loss', () => {
  const bench = streaming();
  bench.adc.silent = true;
  bench.stream(1 * S);
  assert.deepEqual(faults(bench), ['AdcSilent begins']);
  const before = bench.heard().samples.at(-1);
  bench.adc.silent = false;
  bench.stream(1.5 * S);
  assert.deepEqual(faults(bench), ['AdcSilent begins', 'AdcSilent ends']);
  const after = bench.heard().samples.find((sample) => sample.number > before.number);
  const perSample = (after.at_us - before.at_us) / (after.number - before.number);
  assert.ok(Math.abs(perSample - 1e6 / 1007) < 15, `${perSample} µs a sample across the gap`);
});

test('a start without a converter is refused', () => {
  const bench = new Bench();
  bench.adc.silent = true;
  bench.connect();
  const outcome = bench.ask({ Start: { rate_hz: 1000, channels: { force: true, displacement: false, mark: false, indicator: false } } });
  assert.deepEqual(outcome, { Err: 'AdcSilent' });
});

for (const [task, exception] of [['the main loop', 21], ['the converter', 39], ['the pin interrupt', 29]]) {
  test(`a program that stops in ${task} is restarted by the watchdog, and says so`, () => {
    const bench = streaming();
    while (bench.chip.core.IPSR !== exception) bench.run(100);
    const panic = [...bench.elf.symbols].find(([name]) => name.includes('rust_begin_unwind'))[1];
    bench.chip.core.PC = panic & ~1;
    const stoppedUs = bench.nowNs / US;
    bench.run(2.5 * S);
    assert.equal(bench.watchdogBites, 1);
    bench.forget();
    bench.connect();
    const identity = bench.ask('Identify').Ok.Identity;
    assert.deepEqual([identity.boot, identity.reset, identity.streaming], [2, 'Watchdog', false]);
    const [stop, ...more] = bench.ask('ReadStops').Ok.Stops;
    assert.deepEqual([stop.boot, stop.cause, more], [1, 'Panic', []]);
    assert.ok(Math.abs(stop.at_us - stoppedUs) <= 2_000, `${stop.at_us} and not ${stoppedUs} µs`);
    assert.equal(stop.build, bench.ask('ReadHardware').Ok.Hardware.build);
    const { __stext: from, __etext: to } = Object.fromEntries(bench.elf.symbols);
    assert.ok(stop.trail.length > 0 && stop.trail.every((at) => at > from && at < to && at % 2 === 0), `${stop.trail}`);
    assert.equal(bench.start(1000, { force: true }).boot, 2);
    bench.forget();
    bench.stream(200 * MS);
    const boots = bench.heard().of('Block').map((block) => block.boot);
    assert.ok(boots.length > 3 && boots.every((boot) => boot === 2));
  });
}

test('a loop that hangs and a fault of the processor are told as what they are, after power was gone too', () => {
  for (const cause of ['MainLoop', 'Fault']) {
    const bench = streaming();
    const { core, mcu } = bench.chip;
    while (core.IPSR !== 21) bench.run(100);
    const at = core.PC;
    if (cause === 'Fault') {
      core.exceptionEntry(3); // the emulator's own faults end it
    } else {
      core.PC = 0x20041000; // where nothing else runs: `b .`
      mcu.writeUint16(core.PC, 0xe7fe);
    }
    bench.run(2.5 * S);
    assert.equal(bench.watchdogBites, 1, cause);
    bench.connect();
    bench.run(1 * S);
    bench.powerUp();
    bench.connect();
    const stops = bench.ask('ReadStops').Ok.Stops;
    assert.deepEqual(stops.map((stop) => [stop.boot, stop.cause]), [[1, cause]]);
    if (cause === 'Fault') assert.equal(stops[0].trail[0], at);
  }
});

test('a healthy program is left alone by the watchdog', () => {
  const bench = streaming();
  bench.stream(10 * S);
  assert.equal(bench.watchdogBites, undefined);
  assert.deepEqual(bench.ask('ReadStops').Ok.Stops, []);
});
