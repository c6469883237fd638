import { renameSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { defaultSeed, makeBenchLog } from './make-bench-log.ts';

// Writes bench-log.csv anew; an interrupted run leaves the old file whole.
const path = fileURLToPath(new URL('bench-log.csv', import.meta.url));
writeFileSync(`${path}.part`, makeBenchLog(defaultSeed));
renameSync(`${path}.part`, path);
console.log(path);
