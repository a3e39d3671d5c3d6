// The push button's pin: one message a press, with the time of its contact, whatever the contact does and whether the
// gauge streams or not; and the light that asks for it.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { Bench, MS, PIN, S, US } from './bench.mjs';
import { tell } from './figures.mjs';
import { SeenLight } from './light.mjs';

const BOUNCES = [0.4, 1.1, 1.3, 2.9, 4.2, 5.0].map((ms) => ms * MS);
/** A press is stamped at the look after its contact, once a millisecond, or at the end of its bounces. */
const LATE_US = 1100 + 5000;

/** Presses the button at these times from now on (ms), runs, and gives what came: [number, µs after the press]. */
function pressed(bench, timesMs, forNs) {
  const [fromNs, fromUs] = [bench.nowNs, bench.nowNs / US];
  for (const ms of timesMs) bench.button.press(fromNs + ms * MS, 120 * MS, BOUNCES);
  forNs(bench);
  const messages = bench.heard().of('Pressed');
  return messages.map(({ number, at_us }, i) => [number, at_us - fromUs - timesMs[i] * 1e3]);
}

test('a bouncing press is one message with its own time, idle and in a stream', () => {
  const bench = new Bench();
  bench.connect();
  bench.run(300 * MS);
  const idle = pressed(bench, [100.3, 400.7], () => bench.run(1 * S));
  bench.start(1000, { force: true, displacement: true, mark: true });
  bench.forget();
  const streaming = pressed(bench, [50.1, 333.3, 666.6], () => bench.stream(1 * S));
  assert.deepEqual(idle.map(([number]) => number), [1, 2]);
  assert.deepEqual(streaming.map(([number]) => number), [3, 4, 5]);
  const late = [...idle, ...streaming].map(([, us]) => us);
  tell(`presses of the button are stamped ${Math.min(...late).toFixed(0)} to ${Math.max(...late).toFixed(0)} µs after their first contact`);
  assert.ok(late.every((us) => us >= -1 && us <= LATE_US), late.join(' '));
  const { samples, counts } = bench.heard();
  assert.ok(samples.every(({ number }, i) => i === 0 || number === samples[i - 1].number + 1), 'no sample was lost');
  assert.equal(counts.damaged, 0);
});

test('a held button is one press, one held since power came is none, sparks are none', () => {
  const bench = new Bench();
  bench.wires.set(PIN.button, false);
  bench.connect();
  bench.run(500 * MS);
  assert.deepEqual(bench.heard().of('Pressed'), []);
  bench.wires.set(PIN.button, true);
  bench.run(100 * MS);
  for (let spark = 0; spark < 20; spark++) bench.button.press(bench.nowNs + (10 + 30 * spark) * MS, 3 * MS);
  bench.run(1 * S);
  assert.deepEqual(bench.heard().of('Pressed'), []);
  bench.button.press(bench.nowNs + 10 * MS, 3 * S);
  bench.run(4 * S);
  assert.deepEqual(bench.heard().of('Pressed').map(({ number }) => number), [1]);
});

test('a press while no host is there waits, and keeps its own time', () => {
  const bench = new Bench();
  bench.run(200 * MS);
  bench.button.press(bench.nowNs + 100 * MS);
  const aroundUs = bench.nowNs / US + 100e3;
  bench.run(2 * S);
  bench.connect();
  bench.run(1 * S);
  const [press, ...others] = bench.heard().of('Pressed');
  assert.deepEqual(others, []);
  assert.equal(press.number, 1);
  assert.ok(Math.abs(press.at_us - aroundUs) < 2e3, `${press.at_us} for ${aroundUs}`);
});

test('turn is four blinks, taken is one long light', () => {
  const bench = new Bench();
  bench.connect();
  const shown = (signal, ns) => {
    assert.deepEqual(bench.ask({ Show: signal }), { Ok: 'Shown' });
    bench.light.length = 0;
    bench.run(ns);
    return bench.light.map(({ atNs, on }) => ({ ms: Math.round(atNs / MS), on }));
  };
  bench.ask({ Show: 'Off' });
  bench.run(100 * MS);
  const turn = shown('Turn', 1.7 * S);
  assert.ok(turn.filter(({ on }) => !on).length === 4, JSON.stringify(turn));
  shown('Off', 100 * MS);
  const fromNs = bench.nowNs;
  const taken = shown('Taken', 1.6 * S);
  assert.equal(taken.filter(({ on }) => !on).length, 1);
  assert.ok(taken.find(({ on }) => !on).ms - fromNs / MS > 1000, JSON.stringify(taken));
});

test('every signal of the light is told from every other by who counts its blinks', () => {
  const bench = new Bench();
  bench.connect();
  const light = new SeenLight(bench.light);
  for (const signal of ['Hold', 'Turn', 'Wait', 'Taken', 'Fault', 'Unclamp', 'Taken', 'Turn', 'Off', 'Hold']) {
    assert.deepEqual(bench.ask({ Show: signal }), { Ok: 'Shown' });
    bench.run(1.6 * S);
    assert.equal(light.look(bench.nowNs).signal, signal);
    // It goes on, and is no other; the next one cuts it off within a group.
    bench.run(0.9 * S);
    assert.equal(light.look(bench.nowNs).signal, signal);
  }
});

test('second light and buzzer do what the light does', () => {
  const bench = new Bench();
  bench.connect();
  for (const signal of ['Hold', 'Taken', 'Off']) {
    bench.ask({ Show: signal });
    bench.run(2 * S);
  }
  const levels = (edges) => edges.map(({ on }) => on);
  const blinks = levels(bench.light).filter((on) => on).length;
  assert.ok(blinks >= 3, `${blinks} blinks`);
  for (const edges of [bench.secondLight, bench.buzzer]) {
    assert.deepEqual(levels(edges), levels(bench.light));
    edges.forEach(({ atNs }, i) => assert.ok(Math.abs(atNs - bench.light[i].atNs) < 10 * US));
  }
});

test('a signal cut short is not taken for another', () => {
  const bench = new Bench();
  bench.connect();
  const light = new SeenLight(bench.light);
  const seen = new Set();
  const look = (ns) => {
    for (const end = bench.nowNs + ns; bench.nowNs < end; seen.add(light.look(bench.nowNs)?.signal)) bench.run(5 * MS);
  };
  // While it is on and while it is dark, but not in step with its blinks: there anybody would count on.
  for (const cutMs of [60, 150, 240, 450, 660, 960]) {
    bench.ask({ Show: 'Hold' });
    look(1 * S);
    seen.clear();
    bench.ask({ Show: 'Turn' });
    look(cutMs * MS);
    bench.ask({ Show: 'Hold' });
    look(1.6 * S);
    assert.deepEqual([...seen], ['Hold'], `cut off after ${cutMs} ms`);
  }
});
