// Every request is answered or refused exactly once, by its number; what is no request changes nothing.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { Bench, MS, S } from './bench.mjs';
import { CAUSE } from './chip.mjs';
import { encode, seal } from './wire.mjs';

const FORCE = { force: true, displacement: false, mark: false, indicator: false };

function ready(options) {
  const bench = new Bench(options);
  bench.connect();
  return bench;
}

export function record(channel = 'Force', text = 'TP-C-17') {
  return {
    id: Array(16).fill(0x11), channel, coefficients: [0, 0.0125, 0, 0], zero_counts: -350,
    expanded_relative: 0.005, expanded_fixed: 10, span: [1000, 25000], rated: 30000, temperature_c: 20.5,
    date_days: 20000, due_days: 20365, certificate: text, laboratory: 'Tern Point',
  };
}

test('every command is answered, in order, once', () => {
  const bench = ready();
  const expected = [
    ['Identify', 'Identity'],
    ['KeepAlive', 'Alive'],
    [{ ReadCalibration: 'Force' }, 'NoRecord'],
    [{ WriteCalibration: record() }, 'Stored'],
    [{ ReadCalibration: 'Force' }, 'Calibration'],
    [{ SelfTest: 'ShortedInput' }, 'SelfTest'],
    [{ SelfTest: 'Shunt' }, 'SelfTest'],
    [{ SelfTest: 'Supply' }, 'SelfTest'],
    [{ SelfTest: 'OpenBridge' }, 'SelfTest'],
    [{ SelfTest: 'Noise' }, 'SelfTest'],
    [{ SelfTest: 'Temperature' }, 'SelfTest'],
    [{ Show: 'Hold' }, 'Shown'],
    ['ReadOverloads', 'Overloads'],
    ['ReadStops', 'Stops'],
    ['Stop', 'NotStreaming'],
    [{ Start: { rate_hz: 999, channels: FORCE } }, 'NoSuchRate'],
    [{ Start: { rate_hz: 1000, channels: FORCE } }, 'Started'],
    [{ Start: { rate_hz: 1000, channels: FORCE } }, 'Streaming'],
    [{ WriteCalibration: record() }, 'Streaming'],
    [{ SelfTest: 'Noise' }, 'Streaming'],
    ['Stop', 'Stopped'],
  ];
  for (const [command, reply] of expected) {
    const outcome = bench.ask(command);
    const said = outcome.Ok ?? outcome.Err;
    assert.equal(typeof said === 'string' ? said : Object.keys(said)[0], reply, JSON.stringify(command));
  }
  bench.run(1 * S);
  const ids = bench.heard().of('Answer').map((answer) => answer.id);
  assert.deepEqual(ids, expected.map((_, i) => i + 1));
});

test('told to, it leaves for the boot mode once its answer is out; back from there it has not stopped, and has its record', () => {
  const bench = ready();
  bench.ask({ WriteCalibration: record() });
  bench.start(1000, { force: true });
  assert.deepEqual(bench.ask('EnterBootMode'), { Err: 'Streaming' });
  bench.ask('Stop');
  assert.deepEqual(bench.ask('EnterBootMode'), { Ok: 'BootMode' });
  assert.throws(() => bench.run(1 * S), /USB boot mode/);
  assert.ok(bench.chip.bootMode);
  // The boot mode restarts the chip by its watchdog.
  bench.powerUp({ cause: CAUSE.watchdog });
  bench.connect();
  assert.equal(bench.ask('Identify').Ok.Identity.reset, 'Requested');
  assert.deepEqual(bench.ask('ReadStops').Ok.Stops, []);
  assert.equal(bench.ask({ ReadCalibration: 'Force' }).Ok.Calibration.certificate, 'TP-C-17');
});

test('requests sent all at once are all answered', () => {
  const bench = ready();
  const ids = Array.from({ length: 60 }, () => bench.request('KeepAlive'));
  bench.run(1 * S);
  assert.deepEqual(bench.heard().of('Answer').map((answer) => answer.id), ids);
});

test('a self-test measures what it is for', () => {
  const bench = ready();
  const run = (test) => bench.ask({ SelfTest: test }).Ok.SelfTest;
  assert.equal(run('Supply').median, 3300, 'millivolts');
  assert.equal(run('Temperature').median, 21_500, 'thousandths of a degree');
  assert.equal(run('ShortedInput').median, Math.round((2e-6 * 128 * 2 ** 23) / 3.3));
  assert.equal(run('OpenBridge').open, false);
  bench.run(20 * MS);
  const switched = bench.shunt.length;
  run('Shunt');
  assert.deepEqual(bench.shunt.slice(switched).map(({ on }) => on), [true, false], 'the shunt is on for the test only');
  bench.adc.bridge.open = 'signal';
  assert.equal(run('OpenBridge').open, true);
  bench.adc.bridge.open = 'supply';
  assert.equal(run('OpenBridge').open, true);
  assert.deepEqual(bench.adc.faults, []);
});

test('a command of a later version is refused by its number', () => {
  const bench = ready();
  bench.usb.send(seal([0, 0xac, 0x02, 200, 1, 2, 3]));
  assert.deepEqual(bench.answerTo(300), { Err: 'UnknownCommand' });
  assert.ok(bench.ask('Identify').Ok);
});

test('no corrupted request is obeyed, and none of them spoils the next', () => {
  const bench = ready();
  const start = encode([{ Request: { id: 77, command: { Start: { rate_hz: 1000, channels: FORCE } } } }])[0];
  for (let bit = 0; bit < (start.length - 1) * 8; bit++) {
    const damaged = Buffer.from(start);
    damaged[bit >> 3] ^= 1 << (bit & 7);
    bench.usb.send([...damaged, 0]);
  }
  bench.usb.send(new Uint8Array(3000).fill(0x55)); // longer than any request, without an end
  bench.usb.send([0, ...start.subarray(0, 5), 0]);
  bench.run(0.5 * S);
  assert.ok(bench.ask('Identify').Ok.Identity, 'alive and in step');
  assert.equal(bench.ask('Identify').Ok.Identity.streaming, false);
  assert.equal(bench.heard().answers.has(77), false);
  assert.equal(bench.heard().counts.damaged, 0);
});

test('a calibration record that contradicts itself is refused', () => {
  const bench = ready();
  const bad = { ...record(), span: [25000, 1000] };
  assert.deepEqual(bench.ask({ WriteCalibration: bad }), { Err: 'BadRecord' });
  assert.deepEqual(bench.ask({ ReadCalibration: 'Force' }), { Err: 'NoRecord' });
});

test('the light blinks by number: one wait, two hold, three unclamp', () => {
  const bench = ready();
  for (const [signal, blinks] of [['Wait', 1], ['Hold', 2], ['Unclamp', 3]]) {
    bench.ask({ Show: signal });
    bench.light.length = 0;
    bench.run(6 * S);
    const ons = bench.light.filter(({ on }) => on).map(({ atNs }) => atNs);
    const pauses = ons.slice(1).map((at, i) => at - ons[i]).map((ns) => (ns > 0.5 * S ? '|' : '.')).join('');
    assert.ok(pauses.includes(`|${'.'.repeat(blinks - 1)}|`), `${signal}: ${pauses}`);
  }
});
