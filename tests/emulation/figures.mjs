// A measured figure comes in; it is printed where it was measured, and once more among all of them: in the file named by
// BENCH_FIGURES, which `.ci/firmware` prints at its end.

import fs from 'node:fs';
import process from 'node:process';

/** Says a line. */
export function tell(line) {
  console.log(line);
  if (process.env.BENCH_FIGURES) fs.appendFileSync(process.env.BENCH_FIGURES, `${line}\n`);
}
