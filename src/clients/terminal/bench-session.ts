import { signedCents } from '../../bench/move-words.ts';
import { worksheetText } from '../../bench/worksheet-text.ts';
import type { LoggedReading, RowCells } from '../../logs/append-log.ts';
import { expected } from '../../logs/reject.ts';
import type { StandardModel } from '../../policy/standard.ts';
import type { AppendedLog } from '../../sources/append-log.ts';
import { helpText } from './bench-help.ts';
import { readBenchLine, type Word } from './bench-line.ts';
import { besideText, readBeside } from './beside.ts';
import { placeReading, type ReadingLine } from './check-reading.ts';
import { askInstrument, isYes, nameInstrument, type Naming } from './name-instrument.ts';
import { atString, mostStrings, nextFret, nextString, ofInstrument, type Place, placeAt, readHere } from './place.ts';
import { helloText, placeText, promptText, savedText, soFarText } from './place-text.ts';
import { openColumn, readingRow } from './reading-row.ts';
import { sentences } from './sentences.ts';
import { type Adviser, worksheetAfter } from './string-advice.ts';

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
  readonly adviser: Adviser;
  readonly now: () => Date;
}

/** What the session waits to be told before readings go on. */
interface Question {
  readonly prompt: string;
  /** @returns undefined where the line is no answer: then the question is dropped and the line taken as any other */
  readonly take: (line: string) => Promise<string> | undefined;
}

/** Above this, either way, a reading is asked for again: more likely a misread string or fret than an instrument. */
const largeCents = 50;

/** A talk with the technician, line by line. It holds where the bench is; what was read is in the log alone. */
export class BenchSession {
  private readonly options: BenchOptions;
  private place: Place | null = null;
  private question: Question | null = null;
  /** --pass counts for the first instrument alone. */
  private firstPass: number | undefined;
  private saved = 0;
  private isOver = false;
  private refused = 0;

  constructor(options: BenchOptions) {
    this.options = options;
    this.firstPass = options.pass;
  }

  /** Whether `end` was typed. */
  get ended(): boolean {
    return this.isOver;
  }

  /** Number of lines that were not understood, or whose reading was not saved. */
  get unsaved(): number {
    return this.refused;
  }

  /** What to show before the first line. */
  begin(): string {
    const { log, shown, reads, instrument, model } = this.options;
    const last = log.readings().at(-1);
    const start =
      instrument !== undefined
        ? this.follow(nameInstrument(instrument, this.names, model))
        : last !== undefined
          ? this.arrive(last.instrument, last.model, last.pass)
          : this.follow(askInstrument(this.names));
    return helloText(log, { shown, reads }) + start;
  }

  /** What to show where the next line is typed. */
  prompt(): string {
    if (this.question) return this.question.prompt;
    const { place } = this;
    const string = place?.string ?? null;
    if (place === null || string === null) return 'string fret reading> ';
    return promptText(string, { fret: nextFret(this.here(place), string), next: this.nextString(place) });
  }

  /** Takes one line and gives what to show, lines ended by line breaks. */
  async answer(line: string): Promise<string> {
    const typed = readBenchLine(line);
    // Where a name is asked for, the beginning of a word may be one.
    const isOrder = typed.kind === 'word' && typed.isAlone && ['end', 'help', 'undo', 'list'].includes(typed.word);
    if (this.place === null && typed.kind === 'reading' && typed.fret !== undefined)
      return this.refuse('Not saved: a name is asked for first.');
    if (this.question && !isOrder) {
      const taken = this.question.take(line);
      if (taken) return taken;
      if (this.place !== null) this.question = null;
      if (this.place !== null && typed.kind === 'word' && typed.word === 'no') return sentences('Then not.');
    }
    if (typed.kind === 'unclear') return this.refuse(`Found ${typed.found}, expected ${typed.expected}.`);
    if (typed.kind === 'word') return this.takeWord(typed.word, typed.rest);
    if (this.place === null) return typed.kind === 'nothing' ? '' : sentences('Name the instrument first.');
    return typed.kind === 'nothing' ? this.goNext(this.place) : this.takeReading(this.place, typed, line);
  }

  /** What to show when the lines have come to their end. */
  farewell(): string {
    const { log, shown } = this.options;
    const readings = this.saved === 1 ? 'reading' : 'readings';
    return sentences(`${this.saved} ${readings} saved in this session; ${shown} holds ${log.readings().length}.`);
  }

  private async takeWord(word: Word, rest: string): Promise<string> {
    const [to, name] = /^(\S*)\s*(.*)$/.exec(rest)!.slice(1) as [string, string];
    const isNext = (what: string): boolean => word === 'next' && to !== '' && what.startsWith(to.toLowerCase());
    if (word === 'help') return helpText(this.options.reads);
    if (word === 'end') {
      this.isOver = true;
      return '';
    }
    if (word === 'undo') return this.undo();
    if (word === 'yes' || word === 'no') return sentences('Nothing was asked.');
    if (word === 'instrument' || isNext('instrument')) {
      const typed = word === 'instrument' ? rest : name;
      return this.follow(typed === '' ? askInstrument(this.names) : nameInstrument(typed, this.names));
    }
    if (this.place === null) return sentences('Name the instrument first.');
    const at = this.place;
    switch (word) {
      case 'list':
        return this.listed(at);
      case 'worksheet':
        return this.worksheet(at);
      case 'string':
        return this.goString(at, rest);
      case 'open':
      case 'saddle':
        return this.setBeside(at, word, rest);
      case 'pass':
        return /^\d{1,3}$/.test(rest)
          ? this.arrive(at.instrument, at.model, Number(rest))
          : this.refuse(`Found pass "${rest}", expected a whole number: 0 is as received.`);
      case 'next':
        if (to === '' || isNext('string')) return this.goNext(at);
        if (!isNext('pass'))
          return this.refuse(`Found "next ${rest}", expected next string, next pass or next instrument.`);
        return this.here(at).length > 0
          ? this.arrive(at.instrument, at.model, at.pass + 1)
          : sentences(`Nothing is read at pass ${at.pass} yet; if you mean it type "pass ${at.pass + 1}".`);
    }
  }

  private takeReading(from: Place, line: ReadingLine, typed: string): Promise<string> | string {
    const { log, shown, reads } = this.options;
    const placed = placeReading(line, { place: from, here: this.here(from), spec: this.specOf(from.model), reads });
    if ('fault' in placed) return this.refuse(`Not saved: ${placed.fault}`);
    const { place, fret } = placed;
    if (line.note !== '' && !log.format().columns.note)
      return this.refuse(`Not saved: ${shown} has no column note for "${line.note}". Type the reading without it.`);
    const row = readingRow(place, { ...line, fret }, this.options);
    const reading = log.preview(row);
    if ('rule' in reading) {
      const hint =
        reading.rule === 'no-reference'
          ? ` Here: "string ${place.string}", then "open" and what it reads in hertz.`
          : '';
      return this.refuse(`Not saved: found ${reading.found}, expected ${expected[reading.rule]}.${hint}`);
    }
    if (Math.abs(reading.cents) <= largeCents) return this.save(place, row);
    this.question = {
      prompt: 'yes or reading> ',
      take: (again) => (isYes(again) || again.trim() === typed.trim() ? this.save(place, row) : undefined),
    };
    return this.refuse(
      `${signedCents(reading.cents)} cents at string ${place.string}, fret ${fret}: over ${largeCents} it is rarely the instrument. Not saved yet: type yes to save it, or the right reading.`,
    );
  }

  private async save(at: Place, row: RowCells): Promise<string> {
    const { log, adviser } = this.options;
    if (this.question) this.refused--;
    this.question = null;
    const before = this.here(at);
    let reading: LoggedReading;
    try {
      reading = await log.append(row);
    } catch (error) {
      return this.refuse(`NOT SAVED. ${reasonOf(error)}`);
    }
    this.saved++;
    this.place = at;
    const told = sentences(savedText(reading, { before, row }));
    const isRead = nextFret(this.here(at), reading.string) === null;
    if (!isRead || (reading.fret !== 12 && reading.fret !== 17)) return told;
    return (
      told + sentences(...adviser.adviseString(ofInstrument(log.readings(), at.instrument), at.pass, reading.string))
    );
  }

  private async undo(): Promise<string> {
    const { log, shown } = this.options;
    try {
      const last = await log.last();
      if (!last) return sentences(`There is no reading at the end of ${shown} to take back.`);
      const { instrument, pass, string, fret, cents } = last.reading;
      const name = `${instrument}, pass ${pass}, string ${string}, fret ${fret}: ${signedCents(cents)} cents`;
      const takeBack = async (): Promise<string> => {
        this.question = null;
        await log.undo(last);
        if (last.isOwn) this.saved--;
        if (this.place?.instrument === instrument && this.place.pass === pass)
          this.place = atString(this.place, string);
        return sentences(`Taken back: ${name}. The row is kept in ${shown}.undone.`);
      };
      if (last.isOwn) return await takeBack();
      this.question = { prompt: 'yes or no> ', take: (line) => (isYes(line) ? this.orRefused(takeBack) : undefined) };
      return sentences(`The last row was not logged in this session: ${name}. Type yes to take it back.`);
    } catch (error) {
      return this.refuse(`Not taken back. ${reasonOf(error)}`);
    }
  }

  private async orRefused(work: () => Promise<string>): Promise<string> {
    try {
      return await work();
    } catch (error) {
      return this.refuse(`Not taken back. ${reasonOf(error)}`);
    }
  }

  private goNext(at: Place): string {
    const left = at.string === null ? null : nextFret(this.here(at), at.string);
    const next = this.nextString(at);
    if (next !== null) this.place = atString(at, next);
    if (left !== null)
      return sentences(
        `String ${at.string} ${next === null ? 'is the only one left: its' : 'is left, its'} ${left}th is not read.`,
      );
    if (next !== null) return '';
    return sentences(
      `All strings are read at pass ${at.pass}. "worksheet" shows what to do to each; after the moves "next pass"; else "next instrument" or "end".`,
    );
  }

  private goString(at: Place, rest: string): string {
    const most = this.specOf(at.model)?.strings ?? mostStrings;
    if (!/^\d{1,2}$/.test(rest) || Number(rest) < 1 || Number(rest) > most)
      return this.refuse(`Found string "${rest}", expected 1 to ${most}.`);
    this.place = atString(at, Number(rest));
    return '';
  }

  private setBeside(at: Place, word: 'open' | 'saddle', rest: string): string {
    const { log, shown, reads } = this.options;
    const column = word === 'saddle' ? 'saddle_mm' : openColumn(reads);
    if (at.string === null) return sentences('Which string? Type "string" and its number first.');
    if (!log.format().columns[column]) return this.refuse(`${shown} has no column ${column} to note it in.`);
    const read = readBeside(word, rest, reads);
    if ('fault' in read) return this.refuse(read.fault);
    this.place = { ...at, [word]: read.value };
    return sentences(besideText(word, read.value, { string: at.string, reads }));
  }

  private listed(at: Place): string {
    const { log, shown } = this.options;
    const all = log.readings();
    const instruments = new Set(all.map((one) => one.instrument)).size;
    const counts = `${shown} holds ${all.length} readings of ${instruments} ${instruments === 1 ? 'instrument' : 'instruments'}.`;
    return placeText(at, this.specOf(at.model)) + soFarText(this.here(at), at.pass) + sentences(counts);
  }

  private worksheet(at: Place): string {
    const { source } = this.options.adviser;
    if (!source) return sentences('For a worksheet begin with --standard FILE, as "upneck standard" writes it.');
    const own = ofInstrument(this.options.log.readings(), at.instrument);
    return own.some((one) => one.pass <= at.pass)
      ? worksheetText(worksheetAfter(own, at.pass, source))
      : sentences('Nothing is read yet.');
  }

  /** Goes to an instrument at a pass, and tells what is read there. */
  private arrive(instrument: string, model: string, pass: number): string {
    const spec = this.specOf(model);
    this.question = null;
    const to = { instrument, model, pass: this.firstPass ?? pass };
    this.firstPass = undefined;
    const heading = this.place?.heading ?? 1;
    this.place = placeAt(this.options.log.readings(), to, { strings: spec?.strings, heading });
    const here = this.here(this.place);
    return placeText(this.place, spec) + (here.length > 0 ? soFarText(here, this.place.pass) : '');
  }

  private follow(naming: Naming): string {
    const told = sentences(...naming.told);
    if (naming.kind === 'settled') {
      const own = ofInstrument(this.options.log.readings(), naming.instrument);
      return told + this.arrive(naming.instrument, naming.model, Math.max(0, ...own.map((one) => one.pass)));
    }
    this.place = null;
    this.question = {
      prompt: naming.prompt,
      take: (line) => {
        const next = naming.take(line);
        return next && Promise.resolve(this.follow(next));
      },
    };
    return told;
  }

  private refuse(sentence: string): string {
    this.refused++;
    return sentences(sentence);
  }

  private here(place: Place): LoggedReading[] {
    return readHere(this.options.log.readings(), place);
  }

  private specOf(model: string): StandardModel | undefined {
    return this.options.models.find((one) => one.model === model);
  }

  private nextString(at: Place): number | null {
    const strings = this.specOf(at.model)?.strings;
    return nextString(this.here(at), { string: at.string ?? 0, heading: at.heading, strings });
  }

  private get names(): { readings: () => readonly LoggedReading[]; models: string[] } {
    const { log, models } = this.options;
    return { readings: log.readings, models: models.map((one) => one.model) };
  }
}

function reasonOf(error: unknown): string {
  const text = error instanceof Error ? error.message : String(error);
  return text.endsWith('.') ? text : `${text}.`;
}
