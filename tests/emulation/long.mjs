// Streams for virtual hours and prints, by the virtual minute, what came: samples, losses, and the gauge's clock against
// the number of samples.
//
//   node long.mjs [HOURS]     one hour unless told otherwise; takes a quarter of that or more

import process from 'node:process';
import { Bench, S } from './bench.mjs';

const hours = Number(process.argv[2] ?? 1);
const minutes = Math.round(60 * hours);
const bench = new Bench();
bench.connect();
bench.start(1000, { force: true, displacement: true, mark: true });
bench.probe.move(2000);

const total = { samples: 0, losses: 0, damaged: 0, marks: 0, faults: 0, bytes: 0 };
let [first, last] = [null, null];
const stack = [];
for (let minute = 1; minute <= minutes; minute++) {
  for (let turn = 0; turn < 60; turn++) bench.mark.pass(bench.nowNs + turn * S + 0.5 * S);
  bench.stream(60 * S);
  const { samples, counts, of } = bench.drain();
  for (const sample of samples) {
    if (last && sample.number !== last.number + 1) total.losses += sample.number - last.number - 1;
    first ??= sample;
    last = sample;
  }
  total.samples += samples.length;
  total.damaged += counts.damaged + counts.over_long + counts.not_understood;
  total.marks += of('Mark').length;
  total.faults += of('Fault').length;
  total.bytes += counts.bytes;
  stack.push(bench.chip.stackUsed(bench.elf));
  if (minute % 10 === 0) console.log(`minute ${minute}: ${total.samples} samples, ${total.losses} lost, stack ${stack.at(-1)} bytes`);
}

const trueRate = 1000 * (1 + bench.adc.oscillatorError);
const rate = ((last.number - first.number) * 1e6) / (last.at_us - first.at_us);
console.log(`${minutes} virtual minutes: ${total.samples} samples, ${total.losses} lost, ${total.damaged} damaged frames, ` +
  `${total.marks} mark edges of ${bench.mark.passes.length * 2}, ${total.faults} faults, ${(total.bytes / total.samples).toFixed(2)} bytes a sample`);
console.log(`${rate.toFixed(6)} samples in a second of the gauge's clock, ${trueRate.toFixed(6)} in the world's`);
console.log(`probe: ${last.displacement} counted, ${bench.probe.position} moved`);
console.log(`deepest stack after the first minute ${stack[0]} bytes, after the last ${stack.at(-1)}`);
bench.refuseComplaints();
