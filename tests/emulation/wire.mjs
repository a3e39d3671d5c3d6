// Requests and captured bytes come in; frames and messages come out. Both are done by the host's own protocol crate,
// through the program `wire` of the tests package: the bench has no second idea of the protocol.

import { spawnSync } from 'node:child_process';
import fs from 'node:fs';

const ROOT = new URL('../../', import.meta.url).pathname;
const TARGET = process.env.CARGO_TARGET_DIR ?? `${ROOT}target`;

/** Where a program of the tests package is, built without optimisation. */
export function program(name) {
  const path = `${TARGET}/debug/${name}`;
  if (!fs.existsSync(path)) throw new Error(`${path} is missing: cargo build -p holdtrue-tests --features bench`);
  return path;
}

/** Runs one of them to its end; gives what it printed. */
export function run(name, words, input) {
  const done = spawnSync(program(name), words, { input, maxBuffer: 1 << 30 });
  if (done.status !== 0) throw new Error(`${name} ${words.join(' ')}: ${done.stderr}`);
  return done.stdout;
}

/** Frames of messages to the gauge, given as the protocol's own JSON. */
export function encode(messages) {
  return frames(run('wire', ['encode'], messages.map((message) => JSON.stringify(message)).join('\n')));
}

/** A whole frame around any body, as a host of another version might send it. */
export function seal(body) {
  return frames(run('wire', ['seal'], Buffer.from(body).toString('hex')))[0];
}

function frames(lines) {
  return lines.toString().trim().split('\n').map((line) => Buffer.from(line, 'hex'));
}

/** What a gauge said: every frame in order with the byte it ends at, samples, answers by number, and the counts. */
export function decode(bytes) {
  const lines = run('wire', ['decode'], bytes).toString().trim().split('\n').map((line) => JSON.parse(line));
  const { counts } = lines.pop();
  const frames = lines.filter((line) => line.message);
  const of = (kind) => frames.filter((frame) => frame.message[kind]).map((frame) => frame.message[kind]);
  return {
    counts, frames, of,
    bad: lines.filter((line) => !line.message),
    samples: frames.flatMap((frame) => frame.samples ?? []),
    answers: new Map(of('Answer').map((answer) => [answer.id, answer.outcome])),
  };
}
