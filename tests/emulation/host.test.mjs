// The program itself measures with the image through a serial device, and finds what it finds with the simulated gauge
// when both are given the same signals.

import assert from 'node:assert/strict';
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import fs from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { test } from 'node:test';
import { Bench } from './bench.mjs';
import { serve } from './serve.mjs';
import { program, run } from './wire.mjs';

const SEED = '11';
const CLAMPS = '2';

/** Runs the program; gives exit code, its JSON document and its messages. */
async function holdtrue(folder, words) {
  const child = spawn(program('holdtrue-under-test'), words, { cwd: folder, env: { ...process.env, HOLDTRUE_BOOK: path.join(folder, 'bench.holdtrue') } });
  const [out, messages] = [[], []];
  child.stdout.on('data', (bytes) => out.push(bytes));
  child.stderr.on('data', (bytes) => messages.push(bytes));
  const [code] = await once(child, 'close');
  const text = Buffer.concat(out).toString();
  return { code, messages: Buffer.concat(messages).toString(), document: text ? JSON.parse(text) : null };
}

const grip = (port) => ['grip', '--gauge', port, '--clamps', CLAMPS, '--json', '--yes'];

async function onSimulatedGauge(folder) {
  const gauge = spawn(program('holdtrue-under-test'), ['rehearse', '--as-port', '--seed', SEED, '--pace', 'max'], { cwd: folder });
  const [line] = await once(gauge.stdout, 'data');
  const port = line.toString().match(/\/dev\/\S+/)[0];
  const measured = await holdtrue(folder, grip(port));
  gauge.kill('SIGINT');
  return measured;
}

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
  const folder = fs.mkdtempSync(path.join(os.tmpdir(), 'bench-'));
  try {
    const image = await onImage(folder);
    assert.equal(image.code, 0, image.messages);
    fs.rmSync(path.join(folder, 'bench.holdtrue'));
    const simulated = await onSimulatedGauge(folder);
    assert.equal(simulated.code, 0, simulated.messages);
    compare(image.document, simulated.document);
  } finally {
    fs.rmSync(folder, { recursive: true });
  }
});

function compare(image, simulated) {
  assert.equal(image.clamps.length, simulated.clamps.length);
  image.clamps.forEach((clamp, i) => {
    const other = simulated.clamps[i];
    assert.deepEqual([clamp.number, clamp.counted, clamp.excluded], [other.number, other.counted, other.excluded]);
    if (!clamp.counted) return;
    // The stamps differ by some microseconds, so a window may begin or end one sample later: noise / samples.
    const off = Math.abs(clamp.settled_n / other.settled_n - 1);
    console.log(`clamp ${clamp.number}: ${clamp.settled_n.toFixed(2)} N on the image, ${other.settled_n.toFixed(2)} N on the simulated gauge`);
    assert.ok(off < 2e-5, `clamp ${clamp.number} differs by ${off}`);
    assert.ok(Math.abs(clamp.peak_n / other.peak_n - 1) < 2e-5);
  });
  const { count, mean_n, lowest_n } = image.statistics;
  assert.equal(count, simulated.statistics.count);
  assert.ok(Math.abs(mean_n / simulated.statistics.mean_n - 1) < 2e-5);
  assert.ok(Math.abs(lowest_n / simulated.statistics.lowest_n - 1) < 2e-5);
}
