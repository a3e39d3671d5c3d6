// Records in the flash the program runs from: nothing of it runs meanwhile, and power lost at any moment leaves the old
// record or the new one.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { Bench, MS, S } from './bench.mjs';
import { CAUSE } from './chip.mjs';
import { tell } from './figures.mjs';
import { Flash } from './flash.mjs';
import { holdtrue, inFolder } from './program.mjs';
import { serve } from './serve.mjs';

function record(certificate) {
  return {
    id: Array(16).fill(certificate.charCodeAt(0)), channel: 'Force', coefficients: [0, 0.0125, 0, 0], zero_counts: -350,
    expanded_relative: 0.005, expanded_fixed: 10, span: [1000, 25000], rated: 30000, temperature_c: 20.5,
    date_days: 20000, due_days: 20365, certificate, laboratory: 'Tern Point',
  };
}

/** A certificate in the words of the command line. */
const CERTIFICATE = [
  '--certificate', 'TP-F-0118', '--laboratory', 'Tern Point', '--date', '2024-03-02', '--due', '2029-03-02', '--rated-n', '25000',
  '--span-n', '500', '20000', '--temperature-c', '21', '--uncertainty-percent', '0.4', '--uncertainty-n', '8', '--coefficients', '0 0.0116',
];

function connected(options) {
  const bench = new Bench(options);
  bench.connect();
  return bench;
}

const certificate = (bench) => bench.ask({ ReadCalibration: 'Force' }).Ok?.Calibration.certificate;

/** Another bench on a copy of a flash, as it lay there. */
function again(flash) {
  const copy = new Flash();
  copy.bytes.set(flash.bytes);
  return connected({ flash: copy });
}

test('a record is read back after power went, and boots are counted', () => {
  const bench = connected();
  assert.deepEqual(bench.ask({ WriteCalibration: record('first') }), { Ok: 'Stored' });
  assert.equal(certificate(bench), 'first');
  const later = again(bench.flash);
  assert.equal(certificate(later), 'first');
  assert.equal(later.ask('Identify').Ok.Identity.boot, 2);
});

test('a reset by the run pin is a request, not a power-up', () => {
  const bench = connected();
  bench.powerUp({ cause: CAUSE.runPin });
  bench.forget();
  bench.connect();
  assert.equal(bench.ask('Identify').Ok.Identity.reset, 'Requested');
});

test('power lost in any write of a record, at any moment of it', () => {
  const bench = connected();
  // Enough savings that the next ones come to an erased sector's end and an erase is among them.
  for (let i = 0; i < 30; i++) assert.ok(bench.ask({ WriteCalibration: record(`old ${i}`) }).Ok);
  let cuts = 0;
  let kinds = new Set();
  for (let ahead = 0; ahead < 4; ahead++) {
    const before = again(bench.flash);
    for (let i = 0; i < ahead; i++) before.ask({ WriteCalibration: record('old 29') });
    const [from, lying] = [before.flash.operations.length, before.flash.bytes.slice()];
    before.ask({ WriteCalibration: record('new') });
    const writes = before.flash.operations.slice(from);
    writes.forEach(({ kind }) => kinds.add(kind));
    for (let write = 0; write < writes.length; write++) {
      for (const fraction of [0, 0.2, 0.5, 0.8, 0.99]) {
        const flash = new Flash();
        flash.bytes.set(lying);
        const cut = connected({ flash });
        flash.cut = { operation: flash.operations.length + write, fraction };
        cut.request({ WriteCalibration: record('new') });
        assert.throws(() => cut.run(1 * S), /power cut/);
        const found = certificate(again(flash));
        assert.ok(found === 'old 29' || found === 'new', `${writes[write].kind} cut at ${fraction}: ${found}`);
        cuts += 1;
      }
    }
  }
  tell(`${cuts} power cuts in ${[...kinds].join(' and ')}: always the old record or the new one`);
  assert.deepEqual([...kinds].sort(), ['erase', 'program']);
});

test('power lost while the boot number is written: the next boot has another number', () => {
  for (const fraction of [0, 0.3, 0.7, 0.99]) {
    const flash = new Flash();
    const first = connected({ flash }).ask('Identify').Ok.Identity.boot;
    flash.cut = { operation: flash.operations.length, fraction };
    assert.throws(() => connected({ flash }), /power cut/);
    flash.cut = null;
    const next = connected({ flash }).ask('Identify').Ok.Identity.boot;
    assert.ok(next > first, `${first}, then ${next}`);
  }
});

test('flash is never written while streaming, and an overload is stored within a second of the stop', () => {
  const bench = connected();
  bench.ask({ WriteCalibration: record('first') });
  bench.start(1000, { force: true });
  const written = bench.flash.operations.length;
  bench.adc.counts = () => 1000;
  bench.stream(500 * MS);
  bench.adc.counts = () => 2_600_000; // × 0.0125 N: 32.5 kN, rated 30 kN
  bench.stream(300 * MS);
  bench.adc.counts = () => 2_700_123;
  bench.stream(20 * MS);
  bench.adc.counts = () => 1000;
  bench.stream(2 * S);
  assert.equal(bench.flash.operations.length, written, 'nothing written while streaming');
  bench.ask('Stop');
  bench.run(1 * S);
  assert.ok(bench.flash.operations.length > written, 'stored within a second');
  const later = again(bench.flash);
  const overloads = later.ask('ReadOverloads').Ok.Overloads;
  assert.deepEqual(overloads.map(({ boot, peak_counts }) => [boot, peak_counts]), [[1, 2_700_123]]);
});

test('the model itself refuses a program that runs from flash while it is written', () => {
  const bench = connected();
  bench.flash.readable = false;
  assert.throws(() => bench.run(5 * MS), /executed from flash while it is being written/);
});

test('the link lives through a write: a request sent meanwhile is answered', () => {
  const bench = connected();
  const ids = [bench.request({ WriteCalibration: record('first') }), bench.request('KeepAlive'), bench.request('Identify')];
  bench.run(1 * S);
  assert.deepEqual([...bench.heard().answers.keys()].sort(), ids.sort());
});

const LOW = 2.5;
/** What the gauge says it found; it reckons on the safe side. */
const low = (outcome) => outcome.Err?.SupplyLow?.millivolts;

test('nothing is written where the supply is too low, at any chip temperature, and all is written where it is not', () => {
  for (const celsius of [0, 27, 50]) {
    const bench = connected();
    bench.flash.rail.celsius = celsius;
    assert.deepEqual(bench.ask({ WriteCalibration: record('first') }), { Ok: 'Stored' });
    for (const volts of [2.69, 2.5, 2]) {
      bench.flash.rail.volts = volts;
      const written = bench.flash.operations.length;
      const found = low(bench.ask({ WriteCalibration: record('second') }));
      assert.ok(found > 0.8 * volts * 1000 && found <= volts * 1000, `${found} mV found of ${volts} V at ${celsius} °C`);
      assert.equal(bench.flash.operations.length, written);
      assert.equal(certificate(bench), 'first');
    }
    bench.flash.rail.volts = 3.2;
    assert.deepEqual(bench.ask({ WriteCalibration: record('third') }), { Ok: 'Stored' }, `${celsius} °C`);
  }
});

test('a supply that sags in the middle of a record\'s write leaves the record there was, and the next write is whole', () => {
  const bench = connected();
  // Up to a saving that erases first.
  let saved = 0;
  const writes = () => bench.flash.operations.slice(from).map(({ kind }) => kind);
  let from = 0;
  do {
    from = bench.flash.operations.length;
    bench.flash.onFinish = ({ kind }) => {
      if (kind === 'erase') bench.flash.rail.volts = LOW;
    };
    const outcome = bench.ask({ WriteCalibration: record(`old ${saved}`) });
    if (low(outcome)) break;
    saved += 1;
  } while (saved < 40);
  bench.flash.onFinish = null;
  assert.deepEqual(writes(), ['erase'], 'erased, and not programmed');
  assert.equal(certificate(bench), `old ${saved - 1}`);
  assert.equal(certificate(again(bench.flash)), `old ${saved - 1}`, 'after power was gone, too');
  bench.flash.rail.volts = 3.3;
  assert.deepEqual(bench.ask({ WriteCalibration: record('new') }), { Ok: 'Stored' });
  assert.equal(certificate(again(bench.flash)), 'new');
});

test('a boot number and an overload that could not be written are written once the supply is back, and hold up nothing', () => {
  const flash = new Flash();
  connected({ flash });
  flash.rail.volts = LOW;
  const bench = connected({ flash });
  const written = flash.operations.length;
  assert.equal(bench.ask('Identify').Ok.Identity.boot, 2);
  bench.start(1000, { force: true });
  bench.stream(1 * S);
  bench.ask('Stop');
  bench.run(3 * S);
  assert.equal(flash.operations.length, written);
  flash.rail.volts = 3.3;
  bench.run(2 * S);
  assert.ok(flash.operations.length > written);
  assert.equal(again(flash).ask('Identify').Ok.Identity.boot, 3);
});

test('the program says why a certificate was not stored, and stores it once the supply is back', { timeout: 300_000 }, () => inFolder(async (folder) => {
  const bench = connected();
  // 100 kΩ across one arm of 350 Ω: the program stores nothing for a gauge whose shunt does not move it.
  bench.adc.bridge.ratio = () => (bench.shunt.at(-1)?.on ? 350 / (4 * 100e3 + 2 * 350) : 0);
  bench.flash.rail.volts = LOW;
  const port = await serve(bench, { pace: Infinity });
  const words = ['gauge', 'certificate', '--gauge', port.path, ...CERTIFICATE, '--yes', '--json'];
  const refused = await holdtrue(folder, words);
  bench.flash.rail.volts = 3.3;
  const stored = await holdtrue(folder, words);
  await port.stop();
  assert.equal(refused.code, 5, refused.messages);
  assert.match(refused.messages, /its supply is down to 2\.\d\d V, too low to write its memory/);
  assert.equal(stored.code, 0, stored.messages);
}));
