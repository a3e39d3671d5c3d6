// Requests and captured bytes come in; frames and messages come out. Both are done by the host's own protocol crate,
// through the program `wire` of the tests package: the bench has no second idea of the protocol.

import { spawn, spawnSync } from 'node:child_process';
import fs from 'node:fs';
import os from 'node:os';
import path from 'node:path';

const ROOT = new URL('../../', import.meta.url).pathname;
const TARGET = process.env.CARGO_TARGET_DIR ?? `${ROOT}target`;

const BUILD = 'cargo build -p holdtrue-tests -p holdtrue-archives --features holdtrue-tests/bench';

/** Where a program of the tests or of the archives is, built without optimisation. */
export function program(name) {
  const file = `${TARGET}/debug/${name}`;
  if (!fs.existsSync(file)) throw new Error(`${file} is missing: ${BUILD}`);
  return file;
}

/** Runs one of them to its end; gives what it printed. */
export function run(name, words, input) {
  const done = spawnSync(program(name), words, { input, maxBuffer: 1 << 30 });
  if (done.status !== 0) throw new Error(`${name} ${words.join(' ')}: ${done.stderr}`);
  return done.stdout;
}

/**
 * Starts one of them to be asked, a line of JSON for a line of JSON. Virtual time stands still while it answers: Node's own
 * pipes cannot be waited for, named ones can.
 */
export function converse(name, words) {
  const folder = fs.mkdtempSync(path.join(os.tmpdir(), 'bench-'));
  const [down, up] = ['down', 'up'].map((pipe) => path.join(folder, pipe));
  const made = spawnSync('mkfifo', [down, up]);
  if (made.status !== 0) throw new Error(`mkfifo: ${made.error ?? made.stderr}`);
  const between = ['-c', 'exec "$0" "$@" <down >up', program(name), ...words];
  spawn('sh', between, { cwd: folder, stdio: ['ignore', 'ignore', 'inherit'] }).unref();
  const [to, from] = [fs.openSync(down, 'w'), fs.openSync(up, 'r')];
  fs.rmSync(folder, { recursive: true });
  const buffer = Buffer.alloc(1 << 16);
  const listen = () => {
    let line = '';
    while (!line.endsWith('\n')) {
      const length = fs.readSync(from, buffer);
      if (length === 0) throw new Error(`${name} ${words.join(' ')} ended`);
      line += buffer.toString('utf8', 0, length);
    }
    return JSON.parse(line);
  };
  const ask = (question) => {
    fs.writeSync(to, `${JSON.stringify(question)}\n`);
    return listen();
  };
  const end = () => [to, from].forEach((pipe) => fs.closeSync(pipe));
  return { hello: listen(), ask, end };
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
