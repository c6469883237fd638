import { millimetresText, signedCents } from '../../bench/move-words.ts';
import { worksheetText } from '../../bench/worksheet-text.ts';
import { nameNeeds, type LoggedReading, type RowCells } from '../../logs/append-log.ts';
import { expected } from '../../logs/reject.ts';
import { oneLine, wrapped } from '../../policy/plain-text.ts';
import type { StandardModel } from '../../policy/standard.ts';
import type { AppendedLog } from '../../sources/append-log.ts';
import { type BenchLine, numberAfter, readBenchLine, type Word } from './bench-line.ts';
import { helpText } from './bench-help.ts';
import { isRead, nextFret, nextString, readSoFar } from './read-so-far.ts';
import { type AdviceSource, meanCents, moveCaution, riseText, stringAdvice, worksheetAfter } from './string-advice.ts';

/** What a session at the bench is begun with. */
export interface BenchOptions {
  readonly log: AppendedLog;
  /** The log as messages name it. */
  readonly shown: string;
  readonly reads: 'cents' | 'hz';
  readonly technician: string | undefined;
  readonly instrument: string | undefined;
  readonly model: string | undefined;
  readonly pass: number | undefined;
  /** What is known of models, to check strings and frets by; may be empty. */
  readonly models: readonly StandardModel[];
  /** Undefined without a standard: then nothing is advised. */
  readonly advice: AdviceSource | undefined;
  readonly now: () => Date;
}

/** A talk with the technician, line by line. */
export interface BenchSession {
  /** What to show before the first line. */
  readonly begin: () => Promise<string>;
  /** Takes one line and gives what to show, lines ended by line breaks. */
  readonly answer: (line: string) => Promise<string>;
  /** What to show where the next line is typed. */
  readonly prompt: () => string;
  readonly ended: () => boolean;
  /** Lines that were meant to save something and did not. */
  readonly unsaved: () => number;
  /** What to show when the lines have come to their end. */
  readonly farewell: () => string;
}

/** Where the bench is. */
interface Place {
  readonly instrument: string;
  readonly model: string;
  readonly pass: number;
  readonly string: number | null;
  readonly heading: 1 | -1;
  /** What the open string reads and where the saddle stands, as typed; they go with every reading of the string. */
  readonly open: string | undefined;
  readonly saddle: string | undefined;
}

/** What the session waits to be told before readings go on. */
interface Question {
  readonly prompt: string;
  /** @returns undefined where the line is no answer: then the question is dropped and the line taken as any other */
  readonly take: (line: string) => Promise<string> | undefined;
}

/** Above this, either way, a reading is asked for again: more likely a misread string or fret than an instrument. */
const largeCents = 50;
const mostStrings = 12;
const mostFrets = 36;

/** A session that logs readings; all its state is in the log, but for where the bench is. */
export function benchSession(options: BenchOptions): BenchSession {
  const { log, shown, reads, models, advice } = options;
  let place: Place | null = null;
  let question: Question | null = null;
  let [ended, unsaved, saved, ownRows] = [false, 0, 0, 0];
  let cautioned = false;
  const toldChecks = new Set<string>();

  const say = (...sentences: string[]): string => sentences.map((one) => `${indented(one)}\n`).join('');
  const failed = (...sentences: string[]): string => {
    unsaved++;
    return say(...sentences);
  };
  const ofInstrument = (name: string): LoggedReading[] => log.readings().filter((one) => one.instrument === name);
  const here = ({ instrument, pass }: Place): LoggedReading[] =>
    ofInstrument(instrument).filter((one) => one.pass === pass);
  const specOf = (model: string): StandardModel | undefined => models.find((one) => one.model === model);
  const goTo = (from: Place, string: number | null): Place => {
    if (string === from.string) return from;
    const heading = from.string === null || string === null ? from.heading : string > from.string ? 1 : -1;
    return { ...from, string, heading, open: undefined, saddle: undefined };
  };
  /** An instrument at a pass, at the first of its strings not read yet. */
  const placeAt = (instrument: string, model: string, pass: number): Place => {
    const at: Place = { instrument, model, pass, string: null, heading: 1, open: undefined, saddle: undefined };
    const strings = specOf(model)?.strings;
    const last = here(at).at(-1)?.string;
    if (last !== undefined && !isRead(here(at), last)) return { ...at, string: last };
    const next = nextString(here(at), { string: last ?? 0, heading: 1, strings });
    return { ...at, string: next ?? last ?? null };
  };

  const soFar = (at: Place): string => {
    const rows = readSoFar(here(at));
    return rows.length === 0 ? say(`Nothing is read at pass ${at.pass} yet.`) : say(...rows);
  };
  const arrive = (at: Place): string => {
    place = at;
    question = null;
    const spec = specOf(at.model);
    const strings = spec
      ? `${spec.strings} strings`
      : 'not a known model: strings and frets are not checked against it';
    return `${oneLine(`${at.instrument}, ${at.model} (${strings}), pass ${at.pass}`)}\n${here(at).length > 0 ? soFar(at) : ''}`;
  };

  const askInstrument = (): string => {
    place = null;
    question = { prompt: 'instrument> ', take: (line) => (line.trim() === '' ? undefined : takeInstrument(line)) };
    return '';
  };
  const takeInstrument = (typed: string, asked?: string): Promise<string> => {
    const name = typed.trim().normalize();
    const needs = nameNeeds(name);
    if (needs !== null) {
      askInstrument();
      return Promise.resolve(say(`Found "${oneLine(name)}", expected ${needs}.`));
    }
    const known = ofInstrument(name);
    if (known.length > 0) {
      const model = known[0]!.model;
      const pass = Math.max(...known.map((one) => one.pass));
      const other = asked !== undefined && asked !== model ? say(`The log has ${name} as ${model}; so it stays.`) : '';
      return Promise.resolve(other + arrive(placeAt(name, model, firstPass() ?? pass)));
    }
    const twin = log.readings().find((one) => one.instrument.toLowerCase() === name.toLowerCase())?.instrument;
    if (twin === undefined) return newInstrument(name, asked);
    question = {
      prompt: `yes or name> `,
      take: (line) =>
        isYes(line) ? newInstrument(name, asked) : line.trim() === '' ? undefined : takeInstrument(line),
    };
    return Promise.resolve(say(`The log has ${twin}. Type yes if ${name} is another instrument, or the name again.`));
  };
  const newInstrument = (name: string, asked?: string): Promise<string> => {
    if (asked !== undefined) return takeModel(name, asked);
    const above = log.readings().at(-1)?.model;
    question = {
      prompt: above === undefined ? 'model> ' : `model (Enter: ${oneLine(above)})> `,
      take: (line) => (line.trim() === '' && above === undefined ? undefined : takeModel(name, line.trim() || above!)),
    };
    return Promise.resolve(say(`${name} is new to the log. Which model is it?`));
  };
  const takeModel = (name: string, typed: string): Promise<string> => {
    const model = typed.trim().normalize();
    const needs = nameNeeds(model);
    const names = [...new Set([...models.map((one) => one.model), ...log.readings().map((one) => one.model)])];
    const same = names.find((one) => one.toLowerCase() === model.toLowerCase()) ?? model;
    const settle = (): Promise<string> => Promise.resolve(arrive(placeAt(name, same, firstPass() ?? 0)));
    if (needs === null && (names.includes(same) || names.length === 0)) return settle();
    question = {
      prompt: 'model> ',
      take: (line) =>
        needs === null && isYes(line) ? settle() : line.trim() === '' ? undefined : takeModel(name, line),
    };
    return Promise.resolve(
      needs === null
        ? say(`${model} is not known; known are ${names.join(', ')}. Type yes if it is right, or the model again.`)
        : say(`Found "${oneLine(model)}", expected ${needs}.`),
    );
  };
  /** --pass counts for the first instrument alone. */
  let askedPass = options.pass;
  const firstPass = (): number | undefined => {
    const pass = askedPass;
    askedPass = undefined;
    return pass;
  };

  const rowOf = (at: Place, { fret, value, note }: { fret: number; value: string; note: string }): RowCells => ({
    instrument: at.instrument,
    model: at.model,
    string: String(at.string),
    fret: String(fret),
    pass: String(at.pass),
    [reads]: value,
    ...(at.open === undefined ? {} : { [openColumn]: at.open }),
    ...(at.saddle === undefined ? {} : { saddle_mm: at.saddle }),
    measured_at: `${options.now().toISOString().slice(0, 19)}Z`,
    ...(options.technician === undefined ? {} : { technician: options.technician }),
    ...(note === '' ? {} : { note }),
  });
  const openColumn = reads === 'hz' ? 'open_hz' : 'open_cents';

  const takeReading = async (line: Extract<BenchLine, { kind: 'reading' }>): Promise<string> => {
    if (place === null) return failed('Not saved: name the instrument first.');
    const string = line.string ?? place.string;
    if (string === null) return failed('Not saved: which string? Type string, fret and reading, as in "3 12 +1.5".');
    const spec = specOf(place.model);
    const most = spec?.strings ?? mostStrings;
    if (string < 1 || string > most)
      return failed(
        `Not saved: found string ${string}, expected 1 to ${most}${spec ? ` (${spec.model} has ${most} strings; 1 is the thinnest)` : ''}.`,
      );
    const fret = line.fret ?? nextFret(here(place), string);
    if (fret === null)
      return failed(
        `Not saved: the 12th and 17th of string ${string} are read. To read one again: "12 ${line.value}".`,
      );
    const mostFret = spec?.frets ?? mostFrets;
    if (fret < 1 || fret > mostFret)
      return failed(
        `Not saved: found fret ${fret}, expected 1 to ${mostFret}${fret === 0 ? '; for the open string type "open" and what it reads' : ''}.`,
      );
    if (line.fret === undefined && !line.marked && reads === 'cents' && line.value !== '0')
      return failed(
        `Not saved: found "${line.value}" alone. Type +${line.value} or -${line.value} for cents at fret ${fret}, or fret and cents: "${fret} ${line.value}".`,
      );
    if (line.note !== '' && !log.format().columns.note)
      return failed(`Not saved: ${shown} has no column note to put "${line.note}" in. Type the reading without it.`);
    const at = goTo(place, string);
    const row = rowOf(at, { fret, value: line.value, note: line.note });
    const reading = log.preview(row);
    if ('rule' in reading) {
      const hint = reading.rule === 'no-reference' ? ` Here: type "string ${string}", then "open" and its hertz.` : '';
      return failed(`Not saved: found ${reading.found}, expected ${expected[reading.rule]}.${hint}`);
    }
    if (Math.abs(reading.cents) <= largeCents) return save(at, row);
    question = {
      prompt: 'yes or reading> ',
      take: (again) => (isYes(again) ? save(at, row) : undefined),
    };
    return say(
      `${signedCents(reading.cents)} cents at string ${string}, fret ${fret}: over ${largeCents} it is rarely the instrument. Not saved yet: type yes to save it, or the right reading.`,
    );
  };

  const save = async (at: Place, row: RowCells): Promise<string> => {
    const before = here(at).filter((one) => one.string === at.string && one.fret === Number(row.fret));
    question = null;
    let reading: LoggedReading;
    try {
      reading = await log.append(row);
    } catch (error) {
      return failed(`NOT SAVED. ${(error as Error).message}.`.replace(/\.\.$/, '.'));
    }
    saved++;
    ownRows++;
    place = at;
    const own = here(at).filter((one) => one.string === reading.string);
    const value =
      reads === 'hz' ? `${row.hz} Hz, ${signedCents(reading.cents)} cents` : `${signedCents(reading.cents)} cents`;
    const off = at.open !== undefined && reads === 'cents' ? ' (open string taken off)' : '';
    const again =
      before.length === 0
        ? ''
        : `; a repeat, before ${before.map((one) => signedCents(one.cents)).join(' and ')}, mean ${signedCents(meanCents(own, reading.fret)!)}`;
    const told = say(`string ${reading.string}, fret ${reading.fret}: ${value}${off}, saved${again}`);
    const isTelling = reading.fret === 12 || reading.fret === 17;
    return told + (isTelling && isRead(own, reading.string) ? adviceText(at, reading.string) : '');
  };

  const adviceText = (at: Place, string: number): string => {
    const own = here(at).filter((one) => one.string === string);
    if (!advice) return say(riseText(meanCents(own, 12)!, meanCents(own, 17)!));
    const sheet = worksheetAfter(ofInstrument(at.instrument), at.pass, advice);
    const sentences = stringAdvice(sheet, string);
    const checks = sheet.checks.filter((one) => !toldChecks.has(one));
    for (const one of checks) toldChecks.add(one);
    const moves = sheet.saddles.some(
      ({ move, strings }) => move && move.action !== 'leave' && strings.some((one) => one.string === string),
    );
    const caution = moves && !cautioned ? [moveCaution] : [];
    cautioned ||= moves;
    return say(...sentences, ...checks.map((one) => `Check first: ${one}`), ...caution);
  };

  const goNext = (at: Place): string => {
    const strings = specOf(at.model)?.strings;
    const next = at.string === null ? 1 : nextString(here(at), { string: at.string, heading: at.heading, strings });
    if (next !== null) {
      const left = at.string !== null && !isRead(here(at), at.string) ? nextFret(here(at), at.string) : null;
      place = goTo(at, next);
      return left === null || at.string === null ? '' : say(`String ${at.string} is left without its ${left}th.`);
    }
    const unread = at.string !== null && !isRead(here(at), at.string);
    if (unread)
      return say(`String ${at.string} is the last one, and its ${nextFret(here(at), at.string)}th is not read.`);
    return say(
      `All strings are read at pass ${at.pass}. "worksheet" shows what to do to each; "next pass" after the moves, "next instrument", or "end".`,
    );
  };

  const setPass = (at: Place, pass: number): string => arrive(placeAt(at.instrument, at.model, pass));

  const takeWord = async (word: Word, rest: string): Promise<string> => {
    if (word === 'help') return helpText(reads);
    if (word === 'end') {
      ended = true;
      return '';
    }
    if (word === 'undo') return undo();
    if (word === 'yes' || word === 'no') return say('Nothing was asked.');
    if (word === 'instrument' || (word === 'next' && 'instrument'.startsWith(rest.toLowerCase()) && rest !== ''))
      return word === 'instrument' && rest !== '' ? takeInstrument(rest) : askInstrument();
    const inNext = /^instrument\s+(.+)$/i.exec(rest)?.[1];
    if (word === 'next' && inNext !== undefined) return takeInstrument(inNext);
    if (place === null) return say('Name the instrument first.');
    const at = place;
    switch (word) {
      case 'list': {
        const all = log.readings();
        const others = new Set(all.map((one) => one.instrument)).size;
        const counts = `${shown} holds ${all.length} readings of ${others} ${others === 1 ? 'instrument' : 'instruments'}.`;
        return arrive(at) + say(counts);
      }
      case 'worksheet':
        if (!advice) return say('For a worksheet begin with --standard FILE, as "upneck standard" writes it.');
        if (ofInstrument(at.instrument).every((one) => one.pass > at.pass)) return say('Nothing is read yet.');
        return worksheetText(worksheetAfter(ofInstrument(at.instrument), at.pass, advice));
      case 'next':
        if (rest === '' || 'string'.startsWith(rest.toLowerCase())) return goNext(at);
        if ('pass'.startsWith(rest.toLowerCase())) return setPass(at, at.pass + 1);
        return say(`Found "next ${rest}", expected next string, next pass or next instrument.`);
      case 'string': {
        const most = specOf(at.model)?.strings ?? mostStrings;
        if (!/^\d{1,2}$/.test(rest) || Number(rest) < 1 || Number(rest) > most)
          return say(`Found string "${rest}", expected 1 to ${most}.`);
        place = goTo(at, Number(rest));
        return '';
      }
      case 'pass':
        if (!/^\d{1,3}$/.test(rest)) return say(`Found pass "${rest}", expected a whole number: 0 is as received.`);
        return setPass(at, Number(rest));
      case 'open':
      case 'saddle':
        return setBeside(at, word, rest);
    }
  };

  /** What goes with every reading of this string from now on. */
  const setBeside = (at: Place, word: 'open' | 'saddle', rest: string): string => {
    if (at.string === null) return say('Which string? Type "string" and its number first.');
    const column = word === 'saddle' ? 'saddle_mm' : openColumn;
    if (!log.format().columns[column]) return say(`${shown} has no column ${column}; nothing can be put there.`);
    const value = numberAfter(rest);
    const limits = { saddle: [-50, 50], open: reads === 'hz' ? [10, 5000] : [-50, 50] }[word];
    if (value === undefined || Number(value) < limits[0]! || Number(value) > limits[1]!)
      return failed(
        `Found "${rest}", expected ${word === 'saddle' ? 'millimetres, plus is back, away from the neck' : `what the open string reads in ${reads}`}, ${limits.join(' to ')}.`,
      );
    place = { ...at, [word]: value };
    return say(
      word === 'saddle'
        ? `String ${at.string}: its saddle stands ${millimetresText(Number(value))} ${Number(value) < 0 ? 'forward' : 'back'}; noted with its next readings.`
        : `String ${at.string}: open it reads ${value} ${reads}; its next readings are taken against that.`,
    );
  };

  const undo = async (): Promise<string> => {
    let last: LoggedReading | null;
    try {
      last = await log.last();
    } catch (error) {
      return failed((error as Error).message);
    }
    if (!last) return say(`There is no reading at the end of ${shown} to take back.`);
    const name = `${last.instrument}, pass ${last.pass}, string ${last.string}, fret ${last.fret}: ${signedCents(last.cents)}`;
    const doIt = async (): Promise<string> => {
      question = null;
      try {
        const undone = await log.undo();
        ownRows = Math.max(0, ownRows - 1);
        saved = Math.max(0, saved - 1);
        if (place?.instrument === undone.instrument && place.pass === undone.pass) place = goTo(place, undone.string);
        return say(`Taken back: ${name}. The row is kept in ${shown}.undone.`);
      } catch (error) {
        return failed(`Not taken back. ${(error as Error).message}.`);
      }
    };
    if (ownRows > 0) return doIt();
    question = { prompt: 'yes or no> ', take: (line) => (isYes(line) ? doIt() : undefined) };
    return say(`The last row is from an earlier session: ${name}. Type yes to take it back.`);
  };

  const answerLine = async (line: string): Promise<string> => {
    const typed = readBenchLine(line);
    const isWord = typed.kind === 'word' && ['end', 'help', 'undo'].includes(typed.word);
    if (question && !(isWord && isWholeWord(line))) {
      const taken = question.take(line);
      if (taken) return taken;
      if (place !== null) question = null;
      if (place !== null && typed.kind === 'word' && typed.word === 'no') return say('Then not.');
    }
    switch (typed.kind) {
      case 'nothing':
        return place === null ? '' : goNext(place);
      case 'unclear':
        return failed(`Found ${typed.found}, expected ${typed.expected}. Nothing was saved.`);
      case 'reading':
        return takeReading(typed);
      case 'word':
        return takeWord(typed.word, typed.rest);
    }
  };

  return {
    begin: async () => {
      const { instrument, model } = options;
      const all = log.readings();
      const last = all.at(-1);
      const rejects = log.rejects();
      const holds =
        last === undefined
          ? `${shown} is a new log.`
          : `${shown} holds ${all.length} readings, the last of ${last.instrument}, pass ${last.pass}.`;
      const refused = rejects > 0 ? [`${rejects} of its rows are refused; "upneck import" says why.`] : [];
      const hello = `${holds} Type a reading as "3 12 +1.5" (string, fret, ${reads}), "help" or "end".`;
      const start =
        instrument !== undefined
          ? await takeInstrument(instrument, model)
          : last === undefined
            ? askInstrument()
            : arrive(placeAt(last.instrument, last.model, firstPass() ?? last.pass));
      return `${wrapped(hello, 78)}\n${say(...refused)}${start}`;
    },
    answer: answerLine,
    prompt: () => {
      if (question) return question.prompt;
      if (place === null) return 'instrument> ';
      if (place.string === null) return 'string fret reading> ';
      const fret = nextFret(here(place), place.string);
      if (fret !== null) return `string ${place.string}, fret ${fret}> `;
      const strings = specOf(place.model)?.strings;
      const next = nextString(here(place), { string: place.string, heading: place.heading, strings });
      return next === null
        ? `string ${place.string} read, all read> `
        : `string ${place.string} read, Enter for ${next}> `;
    },
    ended: () => ended,
    unsaved: () => unsaved,
    farewell: () =>
      say(
        `${saved} ${saved === 1 ? 'reading' : 'readings'} saved in this session; ${shown} holds ${log.readings().length}.`,
      ),
  };
}

/** A sentence in at most 80 columns, set off from what is typed. */
export function indented(sentence: string): string {
  return wrapped(sentence, 77)
    .split('\n')
    .map((line) => `  ${line}`)
    .join('\n');
}

function isYes(line: string): boolean {
  return ['yes', 'y'].includes(line.trim().toLowerCase());
}

function isWholeWord(line: string): boolean {
  return /^(end|quit|exit|help|undo|\?)$/i.test(line.trim());
}
