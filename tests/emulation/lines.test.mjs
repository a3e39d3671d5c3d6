// Edges on the board's lines: every one counted, every mark stamped, readings of the indicator as shown, and all on a
// clock that goes on when the chip's timer wraps.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { Bench, MS, S, US } from './bench.mjs';
import { tell } from './figures.mjs';

/** A bench that streams. */
function streaming(channels, { rate = 1000, ...options } = {}) {
  const bench = new Bench(options);
  bench.connect();
  bench.start(rate, channels);
  bench.forget();
  return bench;
}

test('20 000 edges a second are counted exactly, both ways', () => {
  const bench = streaming({ force: true, displacement: true }, { rate: 2000 });
  const turning = [];
  for (const [speed, ns] of [[20_000, 3 * S], [0, 10 * MS], [-20_000, 1 * S], [0, 50 * MS], [7_001, 1 * S], [0, 100 * MS]]) {
    bench.probe.move(speed);
    bench.stream(ns);
    turning.push(bench.probe.position);
  }
  const { samples, of } = bench.heard();
  tell(`${bench.probe.edges} edges; the probe stands at ${bench.probe.position}, the gauge says ${samples.at(-1).displacement}`);
  assert.equal(samples.at(-1).displacement, bench.probe.position);
  assert.equal(Math.max(...samples.map((sample) => sample.displacement)), Math.max(...turning));
  assert.deepEqual(of('Fault'), []);
});

test('each sample has the count of the moment its conversion was ready', () => {
  const bench = streaming({ force: true, displacement: true });
  const moments = [];
  bench.wires.onChange = (pin, level) => {
    if (pin === 10 && !level) moments.push({ us: bench.nowNs / US, position: bench.probe.position });
  };
  bench.probe.move(9_973);
  bench.stream(1 * S);
  const { samples } = bench.heard();
  assert.ok(samples.length > 900);
  // The stream began a little before the watch: which sample is the first one seen, its stamp tells.
  const first = samples.findIndex((sample) => Math.abs(moments[0].us - sample.at_us) < 500);
  for (const [i, sample] of samples.slice(first).entries()) {
    const off = sample.displacement - moments[i].position;
    assert.ok(off === 0 || off === 1, `sample ${sample.number} is off by ${off} counts`);
  }
});

test('an impossible step of the probe is a fault, not a wrong count', () => {
  const bench = streaming({ displacement: true });
  bench.probe.move(2000);
  bench.stream(100 * MS);
  bench.probe.move(0);
  bench.run(5 * MS);
  bench.wires.set(11, !bench.wires.levels.get(11));
  bench.wires.set(12, !bench.wires.levels.get(12)); // both at once
  bench.run(200 * MS);
  const faults = bench.heard().of('Fault');
  assert.deepEqual(faults.map(({ fault, active }) => [fault, active]), [['ProbeStep', true], ['ProbeStep', false]]);
});

test('the mark is stamped to a microsecond, both edges, bounces and spikes left out', () => {
  const bench = streaming({ force: true, mark: true });
  const bounces = [30, 75, 130, 190].map((us) => us * US);
  const expected = [];
  for (let turn = 0; turn < 40; turn++) {
    const atNs = bench.nowNs + 20 * MS + turn * 23.456789 * MS;
    bench.mark.pass(atNs, 4 * MS, turn % 2 ? bounces : []);
    expected.push([atNs, true], [atNs + 4 * MS, false]);
    bench.mark.pass(atNs + 10 * MS, 0.3 * MS); // a spike
  }
  bench.stream(1.2 * S);
  const edges = bench.heard().of('Mark');
  assert.equal(edges.length, expected.length);
  const late = edges.map((edge, i) => {
    assert.equal(edge.rising, expected[i][1]);
    assert.equal(edge.number, i);
    return edge.at_us - expected[i][0] / US;
  });
  tell(`mark stamps are off by ${Math.min(...late).toFixed(2)} to ${Math.max(...late).toFixed(2)} µs`);
  assert.ok(late.every((us) => us > -1 && us <= 1), `${Math.min(...late)} to ${Math.max(...late)} µs`);
});

test('the indicator is asked and read, in both units', () => {
  const bench = new Bench();
  bench.indicator.shown = { negative: true, digits: [0, 1, 2, 3, 4, 5], decimals: 3, inch: false };
  bench.connect();
  bench.start(1000, { force: true, indicator: true });
  bench.stream(1 * S);
  bench.indicator.shown = { negative: false, digits: [0, 0, 4, 8, 5, 0], decimals: 5, inch: true };
  bench.stream(1 * S);
  const readings = bench.heard().of('Indicator');
  const kinds = [...new Set(readings.map(({ digits, decimals, inch }) => `${digits} ${decimals} ${inch}`))];
  assert.deepEqual(kinds, ['-12345 3 false', '4850 5 true']);
  assert.equal(readings.length, bench.indicator.sent, 'every reading sent is read');
  assert.deepEqual(bench.heard().of('Fault'), []);
});

test('a silent and a garbled indicator are told', () => {
  const bench = streaming({ force: true, indicator: true });
  bench.indicator.mute = true;
  bench.stream(3 * S);
  bench.indicator.mute = false;
  bench.stream(1 * S);
  bench.indicator.shown.digits = [0, 0, 12, 0, 0, 0];
  bench.stream(1 * S);
  const faults = bench.heard().of('Fault').map(({ fault, active }) => `${fault} ${active}`);
  assert.deepEqual(faults, ['IndicatorSilent true', 'IndicatorSilent false', 'IndicatorGarbled true']);
});

test('time goes on where the 32-bit timer wraps', () => {
  const wrapUs = 2 ** 32;
  const bench = new Bench({ timerStartUs: wrapUs - 20e6 });
  bench.connect();
  const hello = bench.ask('Identify').Ok.Identity;
  assert.ok(hello.at_us > wrapUs - 20e6 && hello.at_us < wrapUs);
  bench.start(1000, { force: true, mark: true });
  bench.forget();
  for (let turn = 1; turn <= 50; turn++) bench.mark.pass(bench.nowNs + turn * 0.5 * S);
  bench.stream(25 * S);
  const { samples, of } = bench.heard();
  assert.ok(samples[0].at_us < wrapUs && samples.at(-1).at_us > wrapUs + 4e6);
  samples.slice(1).forEach((sample, i) => {
    assert.equal(sample.number, samples[i].number + 1);
    const step = sample.at_us - samples[i].at_us;
    assert.ok(step > 980 && step < 1010, `${step} µs before sample ${sample.number}`);
  });
  const rises = of('Mark').filter((edge) => edge.rising);
  rises.slice(1).forEach((edge, i) => assert.ok(Math.abs(edge.at_us - rises[i].at_us - 500_000) <= 1));
  assert.equal(rises.length, 49, 'the fiftieth comes after the end');
});
