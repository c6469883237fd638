import MagicString from 'magic-string';

/** The code of one cell as it becomes one async function of the session's runtime (see process.ts). */
export class CellCode {
  /** The cell's JavaScript, to be edited in place. */
  readonly text: MagicString;
  /** What the code calls the runtime; names of boxes begin with it. No name of the cell does. */
  readonly runtime: string;
  private readonly used = new Set<string>();

  constructor(source: string) {
    this.text = new MagicString(source);
    let name = '$$';
    while (source.includes(name)) name += '$';
    this.runtime = name;
  }

  /** The variable that holds the box of a name. */
  box(name: string): string {
    this.used.add(name);
    return this.runtime + name;
  }

  /**
   * Puts the function around the edited text.
   *
   * @param first statements that run before all others
   */
  finish(first: readonly string[]): { readonly code: string; readonly map: string } {
    const { text, runtime } = this;
    const boxes = [...this.used].map((name) => `${runtime}${name} = ${runtime}.box(${JSON.stringify(name)})`);
    const declared = boxes.length > 0 ? `const ${boxes.join(', ')};` : '';
    text.prepend([`(async (${runtime}) => {"use strict";`, declared, ...first].join(''));
    text.append('\n})');
    return { code: text.toString(), map: text.generateMap({ hires: 'boundary' }).toString() };
  }
}
