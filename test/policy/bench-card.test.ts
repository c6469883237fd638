import { parseHTML } from 'linkedom';
import { beforeAll, expect, test } from 'vitest';
import { smallShop, type SmallShop } from './small-shop.ts';

let shop: SmallShop;
let card: Document;
beforeAll(async () => {
  shop = await smallShop([12, 17]);
  card = parseHTML(shop.files['bench-card.html']).document;
});

const texts = (selector: string): string[] =>
  [...card.querySelectorAll(selector)].map((element) => element.textContent ?? '');

test('benchCard keeps the names of models text, whatever they look like', () => {
  expect(texts('.card h1').sort()).toEqual([...shop.models].sort());
  expect(card.querySelectorAll('img, script, [onerror]')).toHaveLength(0);
});

test('benchCard says per string what the standard says, in tenths of a cent', () => {
  const { entries } = JSON.parse(shop.files['house-standard.json']) as {
    entries: { model: string; string: number; target12: number; target17: number; instruments: number }[];
  };
  const cells = [...card.querySelectorAll('.card')].flatMap((sheet) =>
    [...sheet.querySelectorAll('tbody tr')].map((row) => ({
      model: sheet.querySelector('h1')!.textContent,
      string: Number(row.querySelector('th')!.textContent),
      targets: [...row.querySelectorAll('td.target')].map((cell) =>
        Number(/^[^ ]+/.exec(cell.textContent)![0].replace('−', '-')),
      ),
    })),
  );
  expect(cells).toHaveLength(entries.length);
  for (const { model, string, targets } of cells) {
    const { target12, target17 } = entries.find((entry) => entry.model === model && entry.string === string)!;
    expect(Math.abs(targets[0]! - target12)).toBeLessThan(0.0506);
    expect(Math.abs(targets[1]! - target17)).toBeLessThan(0.0506);
  }
});

test('benchCard warns of strings under tension, and gives way to the maker and local rules, on every sheet', () => {
  for (const sheet of card.querySelectorAll('.card')) {
    expect(sheet.textContent).toMatch(/Slacken the string/);
    expect(sheet.textContent).toMatch(/protect your eyes/);
    expect(sheet.textContent).toMatch(/maker's instructions and your local rules/);
  }
});
