import type { ShopTruth } from './make-shop.ts';

/** `truth.json`: the truth as JSON, each entry of a list on a line of its own. */
export function truthJson(truth: ShopTruth): string {
  const parts = Object.entries(truth).map(([key, value]: [string, unknown]) => {
    const text = Array.isArray(value)
      ? `[\n${value.map((one) => `    ${JSON.stringify(one)}`).join(',\n')}\n  ]`
      : JSON.stringify(value);
    return `  ${JSON.stringify(key)}: ${text}`;
  });
  return `{\n${parts.join(',\n')}\n}\n`;
}
