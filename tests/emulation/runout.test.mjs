// The program measures runout with the image through a serial device, and finds what it finds with the simulated gauge
// when the same operator works at the same spindle. He follows the light of either: he turns when it says turn, presses
// where he stands, and waits for it to answer.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { Bench, IMAGE, INDICATOR_IMAGE, RUNOUT_IMAGE, S, US } from './bench.mjs';
import { tell } from './figures.mjs';
import { Hand } from './hand.mjs';
import { holdtrue, inFolder, onPortOf } from './program.mjs';
import { serve } from './serve.mjs';

const NEAR = ['--at', 'bar', '--height-mm', '20', '--seating', '1'];
const FAR = ['--at', 'bar', '--height-mm', '300', '--seating', '1'];
const runout = (port, words) => ['runout', '--gauge', port, ...words, '--json', '--yes'];

/** Planes as two gauges measure them: [the image's document, the simulated gauge's]. */
async function measured(image, planes, words) {
  const onImage = await inFolder(async (folder) => {
    const bench = new Bench({ image });
    const hand = new Hand(bench, planes);
    bench.connect();
    assert.deepEqual(bench.ask({ WriteCalibration: hand.calibration }), { Ok: 'Stored' });
    const port = await serve(bench, { pace: Infinity });
    const found = await holdtrue(folder, runout(port.path, words));
    await port.stop();
    hand.end();
    assert.deepEqual(bench.adc.faults, []);
    tell(`${hand.begun} runout planes on the image, ${(bench.nowNs / 1e9).toFixed(0)} virtual seconds, ${bench.probe.edges} edges`);
    return found;
  });
  const simulated = await inFolder((folder) => onPortOf('gauge_port', planes, (port) => holdtrue(folder, runout(port, words))));
  for (const { code, messages } of [onImage, simulated]) assert.equal(code, 0, messages);
  return [onImage.document, simulated.document];
}

/** Figures whose directions go round are compared on the circle. */
function far(a, b, name) {
  if (a === null || b === null) return a === b ? 0 : Infinity;
  const off = Math.abs(a - b);
  return name.endsWith('_deg') ? Math.min(off, 360 - off) : off;
}

const OF_THE_SPINDLE = ['tir_um', 'eccentricity_um', 'residual_rms_um', 'synchronous_um', 'asynchronous_um'];
const WITH_THE_DRIFT = ['tir_as_read_um', 'drift_um'];
const FIGURES = [...OF_THE_SPINDLE, ...WITH_THE_DRIFT];

/** The largest difference of some figures in µm between two planes. */
const worst = (plane, other, figures = FIGURES) => Math.max(...figures.map((name) => far(plane[name], other[name], name)));

/**
 * He does the same on either gauge, at the moments their lights let him; when that is depends on the program, which a busy
 * computer may hold up for seconds. Readings at rest differ by what the floor trembles and the head still settles meanwhile, µm.
 */
const AT_REST_UM = 0.5;
/** The machine drifts by up to 1 µm a minute: a plane that takes a minute longer, of lights that come seconds later. */
const DRIFTED_UM = 1.5;
/** Rounding of stamps, where the same samples are taken. */
const SAME_UM = 1e-5;

test('a whole round with the probe, stop by stop', { timeout: 1_800_000 }, async () => {
  const [image, simulated] = await measured(IMAGE, ['3', 'bent-test-bar', 'round', '4', 'probe', 'light', 'patient'], ['--stops', '4']);
  assert.equal(image.planes.length, 10);
  assert.equal(simulated.planes.length, 10);
  const off = (figures) => Math.max(...image.planes.map((plane, i) => worst(plane, simulated.planes[i], figures)));
  const [apart, drifted] = [off(OF_THE_SPINDLE), off(WITH_THE_DRIFT)];
  tell(`${image.planes.length} planes the same on image and simulated gauge to ${apart.toFixed(3)} µm, their drift to ${drifted.toFixed(3)} µm`);
  assert.ok(apart <= AT_REST_UM && drifted <= DRIFTED_UM, `${apart} µm, ${drifted} µm`);
  image.planes.forEach((plane, i) => {
    const other = simulated.planes[i];
    for (const name of ['at', 'height_mm', 'seating', 'orientation_deg', 'method', 'stops']) assert.equal(plane[name], other[name]);
  });
  assert.ok(Math.max(...simulated.planes.map(({ tir_um }) => tir_um)) > 20, 'there is something to be found');
  assert.ok(far(image.axis.offset_um, simulated.axis.offset_um, 'offset_um') <= AT_REST_UM);
  assert.ok(far(image.seat_repeatability_um, simulated.seat_repeatability_um, 'seat') <= AT_REST_UM);
  assert.equal(image.reversal.length, 2);
  image.reversal.forEach(({ bar_eccentricity_um }, i) =>
    assert.ok(Math.abs(bar_eccentricity_um - simulated.reversal[i].bar_eccentricity_um) <= AT_REST_UM));
  assert.deepEqual(image.hints.map(({ cause }) => cause), simulated.hints.map(({ cause }) => cause));
});

test('turns past the once-per-turn mark, with the probe', { timeout: 1_800_000 }, async () => {
  const [image, simulated] = await measured(IMAGE, ['3', 'sound', 'marked', '3', 'probe'], [...NEAR, '--marked', '--turns', '3']);
  const [plane, other] = [image.planes[0], simulated.planes[0]];
  const [off, turned] = [worst(plane, other), far(plane.direction_deg, other.direction_deg, 'direction_deg')];
  tell(`TIR ${plane.tir_um.toFixed(3)} µm, once per turn ${plane.eccentricity_um.toFixed(3)} µm at ${plane.direction_deg.toFixed(2)}°; ` +
    `from the simulated gauge's by ${off.toExponential(1)} µm and ${turned.toExponential(1)}°`);
  assert.equal(plane.method, 'marked');
  // A stamp of the mark is good to 1 µs, and at 6 s a turn that is 0.00006°.
  assert.ok(off < SAME_UM && turned < 1e-3, `${off} µm, ${turned}°`);
});

test('a plane with the digital indicator, on the image without a probe', { timeout: 1_800_000 }, async () => {
  const [image, simulated] = await measured(INDICATOR_IMAGE, ['3', 'bent-test-bar', 'bar', '4', 'indicator', 'light', 'patient'], [...FAR, '--stops', '4']);
  const [plane, other] = [image.planes[0], simulated.planes[0]];
  tell(`indicator: TIR ${plane.tir_um.toFixed(2)} µm on the image, ${other.tir_um.toFixed(2)} µm on the simulated gauge`);
  assert.equal(plane.stops, 4);
  // A display in whole micrometres, asked at other moments: a reading may fall to the neighbouring one.
  const [apart, drifted] = [OF_THE_SPINDLE, WITH_THE_DRIFT].map((figures) => worst(plane, other, figures));
  assert.ok(other.tir_um > 20 && apart <= 1 && drifted <= DRIFTED_UM + 1, `${apart} µm, ${drifted} µm`);
});

test('a plane on the image without a load cell: the timer samples as the converter would', { timeout: 1_800_000 }, async () => {
  const [image, simulated] = await measured(RUNOUT_IMAGE, ['3', 'bent-test-bar', 'bar', '4', 'probe', 'light', 'patient'], [...FAR, '--stops', '4']);
  const [plane, other] = [image.planes[0], simulated.planes[0]];
  tell(`no load cell: TIR ${plane.tir_um.toFixed(2)} µm on the image, ${other.tir_um.toFixed(2)} µm on the simulated gauge`);
  assert.equal(plane.stops, 4);
  const [apart, drifted] = [OF_THE_SPINDLE, WITH_THE_DRIFT].map((figures) => worst(plane, other, figures));
  assert.ok(other.tir_um > 20 && apart <= AT_REST_UM && drifted <= DRIFTED_UM, `${apart} µm, ${drifted} µm`);
});

test('the image without a load cell says so, takes no force for asked, and loses no sample at any rate', () => {
  const bench = new Bench({ image: RUNOUT_IMAGE });
  bench.connect();
  const { fitted } = bench.ask('Identify').Ok.Identity;
  assert.deepEqual(fitted, { force: false, displacement: true, mark: true, indicator: true });
  assert.equal(bench.ask('ReadHardware').Ok.Hardware.converter, null);
  for (const test of ['Shunt', 'Supply', 'Noise']) assert.deepEqual(bench.ask({ SelfTest: test }), { Err: 'NotFitted' });
  assert.deepEqual(bench.ask({ Start: { rate_hz: 1000, channels: { force: true, displacement: true, mark: true, indicator: true } } }), { Err: 'NotFitted' });
  for (const rateHz of [20, 330, 1000, 2000]) {
    bench.start(rateHz, { displacement: true, mark: true });
    bench.forget();
    bench.probe.move(2000);
    const fromUs = bench.nowNs / US;
    bench.stream(3 * S);
    const untilUs = bench.nowNs / US;
    bench.probe.move(0);
    bench.ask('Stop');
    const { samples, of } = bench.heard();
    samples.slice(1).forEach((sample, i) => assert.equal(sample.number, samples[i].number + 1));
    const [first, last] = [samples[0], samples.at(-1)];
    const foundHz = ((last.number - first.number) * 1e6) / (last.at_us - first.at_us);
    assert.ok(Math.abs(foundHz / rateHz - 1) < 0.01, `${foundHz} samples a second, and not ${rateHz}`);
    // 2000 counts a second: each sample has the count of its own moment.
    const moving = samples.filter(({ at_us }) => at_us > fromUs + 1000 && at_us < untilUs);
    const off = moving.map(({ at_us, displacement }) => displacement - moving[0].displacement - (at_us - moving[0].at_us) / 500);
    assert.ok(off.every((counts) => Math.abs(counts) <= 1.1), `${Math.min(...off)} to ${Math.max(...off)} counts at ${rateHz}`);
    assert.deepEqual(of('Fault'), []);
  }
  assert.equal(bench.adc.readings, 0, 'nobody asks for a converter');
});
