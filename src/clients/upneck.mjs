#!/usr/bin/env node
// Lets Node read TypeScript, then starts the command line.
import { register } from 'tsx/esm/api';

register();
const { main } = await import('./cli.ts');
process.exitCode = await main(process.argv.slice(2));
