// Words of a command line come in; what the real program says and finds comes out, and devices for it to measure with.

import { spawn } from 'node:child_process';
import { once } from 'node:events';
import fs from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { program } from './wire.mjs';

/** Runs the program with a book of the folder; gives exit code, its JSON document and its messages. */
export async function holdtrue(folder, words) {
  const env = { ...process.env, HOLDTRUE_BOOK: path.join(folder, 'bench.holdtrue') };
  const child = spawn(program('holdtrue-under-test'), words, { cwd: folder, env });
  const [out, messages] = [[], []];
  child.stdout.on('data', (bytes) => out.push(bytes));
  child.stderr.on('data', (bytes) => messages.push(bytes));
  const [code] = await once(child, 'close');
  const text = Buffer.concat(out).toString();
  return { code, messages: Buffer.concat(messages).toString(), document: text ? JSON.parse(text) : null };
}

/** Works in a folder of its own, which is gone afterwards. */
export async function inFolder(work) {
  const folder = fs.mkdtempSync(path.join(os.tmpdir(), 'bench-'));
  try {
    return await work(folder);
  } finally {
    fs.rmSync(folder, { recursive: true });
  }
}

/** Works with the serial device that another program offers; it ends afterwards. */
export async function onPortOf(name, words, work) {
  const device = spawn(program(name), words, { cwd: os.tmpdir() });
  try {
    const [line] = await once(device.stdout, 'data');
    return await work(line.toString().match(/\/dev\/\S+/)[0]);
  } finally {
    device.kill('SIGINT');
  }
}
