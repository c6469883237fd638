// A process beside the editor, started by the extension: `session` runs a notebook's cells, `language` knows TypeScript.
import { register } from 'tsx/esm/api';

register();
const role = process.argv[2] === 'language' ? 'language' : 'session';
const { serve } = await import(`./serve-${role}.ts`);
// The editor is gone.
process.on('disconnect', () => process.exit());
serve();
