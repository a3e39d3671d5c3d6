// A bench comes in; a serial device of this computer comes out, behind which the bench runs as long as somebody wants.
//
//   node serve.mjs     prints the device's path and runs in real time, until interrupted

import { spawn } from 'node:child_process';
import { once } from 'node:events';
import process from 'node:process';
import { Bench, MS, S } from './bench.mjs';
import { program } from './wire.mjs';

const SLICE_NS = 5 * MS;
/**
 * So far past the host's last word the bench runs, who speaks every two seconds of the gauge's time: a gauge that hears nothing
 * for ten stops, and who waits for its light in vain presses again after six. A host that is only slower must cause neither.
 */
const AHEAD_NS = 2.5 * S;

/** Offers a bench; `pace` virtual seconds in a real one at most, or as fast as it goes. Gives the path, and a way to end it. */
export async function serve(bench, { pace = 1 } = {}) {
  const device = spawn(program('pty'), [], { stdio: 'pipe' });
  const [line] = await once(device.stderr, 'data');
  let [heardNs, stopped] = [bench.nowNs, false];
  device.stdout.on('data', (bytes) => {
    heardNs = bench.nowNs;
    bench.usb.send(bytes);
  });
  device.stdin.on('drain', () => bench.usb.setReading(true));
  bench.usb.onBytes = (bytes) => {
    if (!device.stdin.write(bytes)) bench.usb.setReading(false);
  };
  const [beganNs, began] = [bench.nowNs, performance.now()];
  const running = (async () => {
    while (!stopped) {
      const dueNs = Math.min(beganNs + (performance.now() - began) * 1e6 * pace, heardNs + AHEAD_NS);
      const until = Math.min(dueNs, bench.nowNs + SLICE_NS);
      if (until > bench.nowNs) bench.run(until - bench.nowNs);
      await new Promise((next) => (until < dueNs ? setImmediate(next) : setTimeout(next, 1)));
    }
  })();
  const stop = async () => {
    stopped = true;
    device.kill();
    await running;
  };
  return { path: line.toString().trim(), running, stop };
}

if (process.argv[1] === import.meta.filename || process.argv[1]?.endsWith('/serve.mjs')) {
  const bench = new Bench();
  bench.connect();
  const { path, running } = await serve(bench);
  console.log(path);
  await running;
}
