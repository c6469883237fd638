import type { Content, Message } from './wire.ts';

/** A request that cannot be carried out as it stands; the message names the field. */
export class BadRequest extends TypeError {
  override readonly name = 'BadRequest';
}

/** Reads the fields of one request's content, and refuses what is not of the specification's type. */
export class Fields {
  private readonly type: string;
  private readonly content: Content;

  constructor({ header, content }: Message) {
    this.type = header.msg_type;
    this.content = content;
  }

  text(name: string): string {
    const value = this.content[name];
    if (typeof value === 'string') return value;
    throw this.refusal(name, 'a text');
  }

  /** True or false, or `otherwise` where the field is missing. */
  flag(name: string, otherwise: boolean): boolean {
    const value = this.content[name] ?? otherwise;
    if (typeof value === 'boolean') return value;
    throw this.refusal(name, 'true or false');
  }

  /** A place in a text, in Unicode code points. */
  cursor(name: string): number {
    const value = this.content[name];
    if (typeof value === 'number' && Number.isInteger(value) && value >= 0) return value;
    throw this.refusal(name, 'a whole number from 0');
  }

  oneOf<Choice extends string>(name: string, choices: readonly Choice[]): Choice {
    const found = choices.find((choice) => choice === this.content[name]);
    if (found !== undefined) return found;
    throw this.refusal(name, `one of: ${choices.join(', ')}`);
  }

  /** Texts by name; none where the field is missing. */
  texts(name: string): [key: string, text: string][] {
    const value = this.content[name] ?? {};
    const entries: [string, unknown][] = typeof value === 'object' ? Object.entries(value) : [['', null]];
    return entries.map(([key, text]) => {
      if (typeof text !== 'string' || Array.isArray(value)) throw this.refusal(name, 'names with texts');
      return [key, text];
    });
  }

  private refusal(name: string, expected: string): BadRequest {
    const found = name in this.content ? JSON.stringify(this.content[name]).slice(0, 60) : 'nothing';
    return new BadRequest(`${this.type}: field "${name}": found ${found}, expected ${expected}`);
  }
}
