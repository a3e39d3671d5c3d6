// The host stalls, vanishes and comes back: what was promised is not lost, what is lost is counted, and afterwards both
// ends are in step.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { Bench, MS, S } from './bench.mjs';
import { tell } from './figures.mjs';

/** How long a host may be away at 1 kHz without a sample lost. */
const PROMISED_STALL_S = 9;
const BLOCK = 32;
/** A gauge that hears nothing for 10 s stops; to fill its outbox before that takes twice the rate and a cell that scatters. */
const FULL = { rate: 2000, scatter: 30_000, stallS: 9 };

function streaming(rate = 1000, scatter = 320) {
  const bench = new Bench();
  bench.connect();
  bench.adc.counts = (reading) => noise(reading, scatter);
  bench.start(rate, { force: true, displacement: true });
  bench.forget();
  bench.probe.move(3000);
  bench.stream(300 * MS);
  return bench;
}

/** Counts that scatter as a 24-bit converter's do at 1 kHz and gain 128 (some 300 counts), so that bytes are realistic. */
function noise(reading, scatter = 320) {
  let sum = 0;
  for (let i = 0; i < 12; i++) sum += (Math.imul(reading * 12 + i + 1, 2654435761) >>> 0) / 2 ** 32;
  return Math.round(1_200_000 + (sum - 6) * scatter);
}

function missing(samples) {
  return samples.slice(1).map((sample, i) => sample.number - samples[i].number - 1).filter((count) => count > 0);
}

test(`a host away for ${PROMISED_STALL_S} s loses nothing`, () => {
  const bench = streaming();
  bench.usb.setReading(false);
  bench.run(PROMISED_STALL_S * S);
  bench.usb.setReading(true);
  bench.stream(1 * S);
  const { samples, counts } = bench.heard();
  assert.deepEqual(missing(samples), []);
  assert.equal(counts.damaged, 0);
  const bytes = counts.bytes / samples.length;
  tell(`${bytes.toFixed(2)} bytes a sample; stalled for ${PROMISED_STALL_S} s without loss`);
});

test('a stall that fills the outbox drops whole blocks, counts them, and is in step afterwards', () => {
  const bench = streaming(FULL.rate, FULL.scatter);
  bench.usb.setReading(false);
  bench.run(FULL.stallS * S);
  bench.usb.setReading(true);
  bench.stream(1 * S);
  const last = bench.heard().samples.at(-1);
  assert.ok(bench.nowNs / 1e3 - last.at_us < 60_000, 'the newest sample is fresh');
  const { samples: taken, blocks_dropped } = bench.ask('Stop').Ok.Stopped;
  const { samples, counts } = bench.heard();
  const lost = missing(samples);
  tell(`${FULL.stallS} s of stall at ${FULL.rate} a second: ${lost.reduce((a, b) => a + b, 0)} samples in ${blocks_dropped} blocks dropped`);
  assert.equal(counts.damaged, 0, 'never a part of a frame');
  assert.ok(lost.length === 1 && lost[0] > 0);
  assert.equal(lost[0], blocks_dropped * BLOCK);
  assert.equal(samples.at(-1).number + 1, taken, 'the gauge knows how many it took');
  samples.slice(1).forEach((sample, i) => {
    const perSample = (sample.at_us - samples[i].at_us) / (sample.number - samples[i].number);
    assert.ok(Math.abs(perSample - 1e6 / (1.007 * FULL.rate)) < 10, `${perSample} µs a sample before ${sample.number}`);
  });
});

test('mark edges survive a stall that drops blocks', () => {
  const bench = new Bench();
  bench.connect();
  bench.adc.counts = (reading) => noise(reading, FULL.scatter);
  bench.start(FULL.rate, { force: true, displacement: true, mark: true });
  bench.forget();
  bench.usb.setReading(false);
  for (let turn = 0; turn < 10; turn++) bench.mark.pass(bench.nowNs + 7.8 * S + turn * 100 * MS);
  bench.run(FULL.stallS * S);
  bench.usb.setReading(true);
  bench.stream(0.5 * S);
  const edges = bench.heard().of('Mark');
  assert.ok(missing(bench.heard().samples)[0] > 0);
  const numbers = edges.map((edge) => edge.number);
  // Events have some room of their own; a lost one would show as a step.
  assert.deepEqual(numbers.slice(0, 10), [0, 1, 2, 3, 4, 5, 6, 7, 8, 9]);
});

test('unplugged and plugged in again with its power kept: the same boot, at most the cut frames lost', () => {
  const bench = streaming();
  bench.usb.unplug();
  bench.run(0.4 * S);
  bench.usb.plug();
  bench.connect();
  bench.stream(0.6 * S);
  const identity = bench.ask('Identify').Ok.Identity;
  const { samples, counts } = bench.heard();
  assert.equal(identity.boot, 1);
  assert.equal(identity.streaming, true);
  // Cut are: what the driver held when the cable went, and the frame under way when the port was opened again.
  assert.ok(counts.damaged <= 2, `${counts.damaged} damaged frames`);
  const lost = missing(samples);
  assert.ok(lost.length <= 2, `lost ${lost}`);
  assert.ok(lost.reduce((a, b) => a + b, 0) <= 4 * BLOCK, `lost ${lost}`);
  assert.ok(samples.at(-1).number > 1200);
});

test('unplugged with its power: a new boot, which says so, and old samples are not carried over', () => {
  const bench = streaming();
  bench.usb.unplug();
  bench.powerUp();
  bench.usb.plug();
  bench.forget();
  bench.connect();
  const identity = bench.ask('Identify').Ok.Identity;
  assert.deepEqual([identity.boot, identity.reset, identity.streaming], [2, 'PowerOn', false]);
  assert.deepEqual(bench.heard().samples, []);
  assert.equal(bench.start(1000, { force: true }).boot, 2);
});

test('an idle gauge says hello once a second', () => {
  const bench = new Bench();
  bench.connect();
  bench.forget();
  bench.run(5.05 * S);
  assert.equal(bench.heard().of('Hello').length, 5);
});

test('a host that falls silent for 10 s ends the stream', () => {
  const bench = streaming();
  bench.run(9 * S);
  assert.ok(bench.nowNs / 1e3 - bench.heard().samples.at(-1).at_us < 60_000, 'still streaming after 9 s');
  bench.run(3 * S);
  assert.ok(bench.nowNs / 1e3 - bench.heard().samples.at(-1).at_us > 1e6, 'ended after 12 s');
  assert.equal(bench.ask('Identify').Ok.Identity.streaming, false);
});
