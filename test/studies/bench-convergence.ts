import { type BenchPlan, percentile, simulateBench } from '../bench-worksheets/simulated-bench.ts';

// node --import tsx test/studies/bench-convergence.ts [SADDLES]
// How many moves a simulated technician needs before the worksheet says to leave the saddle, as a Markdown table.
const saddles = Number(process.argv[2] ?? 2000);
const usual: BenchPlan = {
  seed: 21,
  instruments: saddles,
  noise: 0.5,
  step: 0.1,
  screw: [1, 1],
  mmPerTurn: 0.7,
  received: 6,
};
const plans: Record<string, BenchPlan> = {
  'screw as stated': usual,
  'screw 0.6 to 1.6 times as stated': { ...usual, screw: [0.6, 1.6] },
  'nothing stated, hand as that screw': { ...usual, screw: [0.6, 1.6], mmPerTurn: null },
  'such a screw, two strings a saddle': { ...usual, screw: [0.6, 1.6], strings: 2 },
  'such a screw, six strings a saddle': { ...usual, screw: [0.6, 1.6], strings: 6 },
  'such a screw, tuner in whole cents': { ...usual, screw: [0.6, 1.6], step: 1 },
};
console.log('| bench | saddles | median | 90 % | 99 % | most | left, rms |');
console.log('|---|---|---|---|---|---|---|');
for (const [name, plan] of Object.entries(plans)) {
  const moved = simulateBench(plan).filter(({ moves }) => moves > 0);
  const moves = moved.map((one) => one.moves);
  const left = Math.sqrt(moved.reduce((sum, one) => sum + one.left ** 2, 0) / moved.length);
  const cells = [0.5, 0.9, 0.99].map((p) => percentile(moves, p));
  console.log(`| ${name} | ${moved.length} | ${cells.join(' | ')} | ${Math.max(...moves)} | ${left.toFixed(2)} |`);
}
