// The image streams: samples without loss, at the settings asked for, stamped with the world's own time.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { Bench, MS, S } from './bench.mjs';
import { tell } from './figures.mjs';

/** Neighbouring samples whose numbers do not follow each other. */
const gaps = (samples) => samples.slice(1).filter((sample, i) => sample.number !== samples[i].number + 1);

test('a virtual minute at 1 kHz, without loss', () => {
  const bench = new Bench();
  bench.connect();
  assert.equal(bench.usb.device.name, 'holdtrue gauge');
  bench.start(1000, { force: true, displacement: true });
  bench.forget();
  bench.probe.move(2000);
  bench.stream(60 * S);
  const { counts, samples, of } = bench.heard();
  tell(`${samples.length} samples in 60 s, ${gaps(samples).length} losses, ` +
    `${counts.damaged} CRC errors, ${(counts.bytes / samples.length).toFixed(2)} bytes a sample`);
  assert.equal(gaps(samples).length, 0);
  assert.equal(counts.damaged + counts.over_long + counts.not_understood, 0);
  assert.deepEqual(of('Fault'), []);
  // The converter's oscillator is 0.7 % fast: so many samples really came, and the gauge's clock says so too.
  const [first, last] = [samples.at(0), samples.at(-1)];
  const rate_hz = ((last.number - first.number) * 1e6) / (last.at_us - first.at_us);
  assert.ok(Math.abs(rate_hz - 1007) < 0.01, `${rate_hz} samples a second`);
  assert.ok(samples.length >= 1007 * 60 - 2 * 32, `${samples.length}`);
  assert.deepEqual(bench.adc.faults, []);
  bench.refuseComplaints();
});

test('the converter is set as asked, over its bus', () => {
  const bench = new Bench();
  bench.connect();
  bench.start(1000, { force: true });
  // AIN1 against AIN2, gain 128; 1000 samples a second, continuous; reference AIN0/AIN3, switch closed, no filter.
  assert.deepEqual(bench.adc.registers, [0x3e, 0xc4, 0x88, 0x00]);
  bench.ask('Stop');
  bench.start(20, { force: true });
  assert.deepEqual(bench.adc.registers, [0x3e, 0x04, 0x98, 0x00], 'with the filter for 50 and 60 Hz, which it has only here');
  bench.ask('Stop');
  bench.start(2000, { force: true });
  assert.deepEqual(bench.adc.registers, [0x3e, 0xd4, 0x88, 0x00], 'turbo mode');
  assert.deepEqual(bench.adc.faults, []);
});

test('the counts are those the bridge gives', () => {
  const bench = new Bench();
  bench.connect();
  bench.adc.counts = (reading) => (reading % 2 ? 4_000_000 : -4_000_000) + reading;
  bench.start(1000, { force: true });
  bench.forget();
  const before = bench.adc.readings;
  bench.stream(0.5 * S);
  const { samples } = bench.heard();
  const offset = samples[0].force % 2 ? samples[0].force - 4_000_000 : samples[0].force + 4_000_000;
  assert.ok(offset >= before - 64);
  samples.forEach((sample, i) => {
    const reading = offset + i;
    assert.equal(sample.force, (reading % 2 ? 4_000_000 : -4_000_000) + reading, `sample ${sample.number}`);
  });
  assert.ok(samples.length > 450, `${samples.length} samples`);
});

test('the same script gives the same bytes at the same nanosecond', () => {
  const run = () => {
    const bench = new Bench();
    bench.connect();
    bench.start(1000, { force: true, displacement: true });
    bench.probe.move(3000);
    bench.stream(200 * MS);
    return bench.chunks.map(({ atNs, bytes }) => `${atNs} ${Buffer.from(bytes).toString('hex')}`);
  };
  const first = run();
  assert.ok(first.length > 10);
  assert.deepEqual(run(), first);
});
