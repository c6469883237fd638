import { nameNeeds, type LoggedReading } from '../../logs/append-log.ts';
import { oneLine } from '../../policy/plain-text.ts';

/** One step of the talk that settles which instrument is on the bench, and of which model. */
export type Naming =
  | { readonly kind: 'settled'; readonly told: readonly string[]; readonly instrument: string; readonly model: string }
  | {
      readonly kind: 'asked';
      readonly told: readonly string[];
      readonly prompt: string;
      /** @returns undefined where the line says nothing */
      readonly take: (line: string) => Naming | undefined;
    };

/** What names are held against. */
export interface KnownNames {
  readonly readings: () => readonly LoggedReading[];
  /** Models that models.csv or the standard has. */
  readonly models: readonly string[];
}

/** Asks for an instrument. */
export function askInstrument(known: KnownNames, ...told: readonly string[]): Naming {
  return {
    kind: 'asked',
    told,
    prompt: 'instrument> ',
    take: (line) => (line.trim() === '' ? undefined : nameInstrument(line, known)),
  };
}

/**
 * An instrument by name. One that the log has is of the model it has there; a new one has its model asked for, unless it is
 * given. Names that differ from a known one in the case of letters alone are asked about: most often they are slips.
 */
export function nameInstrument(typed: string, known: KnownNames, model?: string): Naming {
  const name = typed.trim().normalize();
  const needs = nameNeeds(name);
  if (needs !== null) return askInstrument(known, `Found "${oneLine(name)}", expected ${needs}.`);
  const before = known.readings().find((one) => one.instrument === name);
  if (before) {
    const kept = model !== undefined && model !== before.model;
    const told = kept ? [`The log has ${name} as ${before.model}; so it stays.`] : [];
    return { kind: 'settled', told, instrument: name, model: before.model };
  }
  const twin = known.readings().find((one) => sameLetters(one.instrument, name))?.instrument;
  if (twin === undefined) return askModel(name, known, model);
  return {
    kind: 'asked',
    told: [`The log has ${twin}. Type yes if ${name} is another instrument, else the name again.`],
    prompt: 'yes or name> ',
    take: (line) => {
      if (isYes(line)) return askModel(name, known, model);
      return line.trim() === '' ? undefined : nameInstrument(line, known, model);
    },
  };
}

function askModel(instrument: string, known: KnownNames, model?: string): Naming {
  if (model !== undefined) return nameModel(instrument, known, model);
  const above = known.readings().at(-1)?.model;
  return {
    kind: 'asked',
    told: [`${instrument} is new to the log. Which model is it?`],
    prompt: above === undefined ? 'model> ' : `model (Enter: ${oneLine(above)})> `,
    take: (line) => {
      const typed = line.trim() || above;
      return typed === undefined ? undefined : nameModel(instrument, known, typed);
    },
  };
}

function nameModel(instrument: string, known: KnownNames, typed: string): Naming {
  const name = typed.trim().normalize();
  const names = [...new Set([...known.models, ...known.readings().map((one) => one.model)])];
  const model = names.find((one) => one === name) ?? names.find((one) => sameLetters(one, name)) ?? name;
  const needs = nameNeeds(model);
  const settled: Naming = { kind: 'settled', told: [], instrument, model };
  if (needs === null && (names.includes(model) || names.length === 0)) return settled;
  return {
    kind: 'asked',
    told: [
      needs === null
        ? `${model} is not known; known are ${names.join(', ')}. Type yes if it is right, else the model again.`
        : `Found "${oneLine(model)}", expected ${needs}.`,
    ],
    prompt: needs === null ? 'yes or model> ' : 'model> ',
    take: (line) => {
      if (needs === null && isYes(line)) return settled;
      return line.trim() === '' ? undefined : nameModel(instrument, known, line);
    },
  };
}

function sameLetters(a: string, b: string): boolean {
  return a.toLowerCase() === b.toLowerCase();
}

/** Whether a line says yes. */
export function isYes(line: string): boolean {
  return ['yes', 'y'].includes(line.trim().toLowerCase());
}
