// The program itself measures with the image through a serial device, and finds what it finds with the simulated gauge
// when both are given the same signals: somebody clamps in a rhythm of his own, whatever their lights say.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { Bench } from './bench.mjs';
import { tell } from './figures.mjs';
import { holdtrue, inFolder, onPortOf } from './program.mjs';
import { serve } from './serve.mjs';
import { run } from './wire.mjs';

const SEED = '11';
const CLAMPS = '2';

const grip = (port) => ['grip', '--gauge', port, '--clamps', CLAMPS, '--json', '--yes'];

const onSimulatedGauge = (folder) =>
  onPortOf('gauge_port', [SEED, 'sound', 'grip'], (port) => holdtrue(folder, grip(port)));

async function onImage(folder) {
  const signal = JSON.parse(run('signal', [SEED, 'sound', '90']));
  const bench = new Bench();
  bench.connect();
  assert.deepEqual(bench.ask({ WriteCalibration: signal.calibration }), { Ok: 'Stored' });
  bench.adc.oscillatorError = 1000 / signal.period_us - 1;
  bench.adc.counts = (conversion) => signal.counts[Math.min(conversion, signal.counts.length - 1)];
  const port = await serve(bench, { pace: 3 });
  const measured = await holdtrue(folder, grip(port.path));
  await port.stop();
  return measured;
}

test('grip on the image finds what it finds on the simulated gauge', { timeout: 300_000 }, async () => {
  const image = await inFolder(onImage);
  assert.equal(image.code, 0, image.messages);
  const simulated = await inFolder(onSimulatedGauge);
  assert.equal(simulated.code, 0, simulated.messages);
  compare(image.document, simulated.document);
});

/**
 * Counts are the same; stamps differ by a microsecond, so a window or a zero may begin or end one sample later. A sample is
 * some 2 N of noise off its neighbours, and the shortest mean, a zero of 0.5 s, has 500: N.
 */
const ONE_SAMPLE_N = 0.02;

function compare(image, simulated) {
  const near = (a, b, what) => assert.ok(Math.abs(a - b) <= ONE_SAMPLE_N, `${what} differs by ${a - b} N`);
  assert.equal(image.clamps.length, simulated.clamps.length);
  image.clamps.forEach((clamp, i) => {
    const other = simulated.clamps[i];
    assert.deepEqual([clamp.number, clamp.counted, clamp.excluded], [other.number, other.counted, other.excluded]);
    if (!clamp.counted) return;
    const off = (clamp.settled_n - other.settled_n).toExponential(1);
    tell(`clamp ${clamp.number}: ${clamp.settled_n.toFixed(2)} N on the image, ${off} N from the simulated gauge's`);
    near(clamp.settled_n, other.settled_n, `clamp ${clamp.number}`);
    near(clamp.peak_n, other.peak_n, `peak of clamp ${clamp.number}`);
  });
  const { count, mean_n, lowest_n } = image.statistics;
  assert.equal(count, Number(CLAMPS));
  assert.equal(count, simulated.statistics.count);
  near(mean_n, simulated.statistics.mean_n, 'mean');
  near(lowest_n, simulated.statistics.lowest_n, 'lowest');
}
