/** Text on a page and the part of it that is hard to read. */
export interface Contrast {
  /** How many visible runs of text were looked at. */
  readonly texts: number;
  /** Each as `ratio: text`, at most 20. */
  readonly low: string[];
}

/**
 * Runs inside a page: every visible run of text against the nearest background painted behind it.
 *
 * Contrast ratio (L1 + 0.05) / (L2 + 0.05) with the relative luminance of sRGB; at least 4.5, and 3 for text of 24 px or
 * of 18.66 px in bold: WCAG 2.2, success criterion 1.4.3 and the definitions it names.
 */
export function lowContrast(): Contrast {
  type Colour = [number, number, number, number];
  const canvas = document.createElement('canvas').getContext('2d', { willReadFrequently: true })!;
  const colour = (css: string): Colour => {
    canvas.clearRect(0, 0, 1, 1);
    canvas.fillStyle = css;
    canvas.fillRect(0, 0, 1, 1);
    const [red, green, blue, alpha] = canvas.getImageData(0, 0, 1, 1).data;
    return [red! / 255, green! / 255, blue! / 255, alpha! / 255];
  };
  const luminance = (parts: Colour): number => {
    const [red, green, blue] = parts.map((part) => (part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4));
    return 0.2126 * red! + 0.7152 * green! + 0.0722 * blue!;
  };
  const over = (top: Colour, below: Colour): Colour =>
    [0, 1, 2, 3].map((i) => (i === 3 ? 1 : top[i]! * top[3] + below[i]! * (1 - top[3]))) as Colour;
  const background = (element: Element | null): Colour => {
    if (element === null) return [1, 1, 1, 1];
    const own = colour(getComputedStyle(element).backgroundColor);
    return own[3] === 1 ? own : over(own, background(element.parentElement));
  };

  const low: string[] = [];
  let texts = 0;
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node !== null; node = walker.nextNode()) {
    const element = node.parentElement!;
    const text = node.textContent!.trim();
    if (text === '' || element.closest('title, desc, style') !== null || !element.checkVisibility()) continue;
    texts++;
    const style = getComputedStyle(element);
    const behind = background(element);
    const ink = colour(element instanceof SVGElement ? style.fill : style.color);
    ink[3] *= element instanceof SVGElement ? Number(style.fillOpacity) : 1;
    for (let at: Element | null = element; at !== null; at = at.parentElement)
      ink[3] *= Number(getComputedStyle(at).opacity);
    const [light, dark] = [luminance(over(ink, behind)), luminance(behind)].sort((a, b) => b - a);
    const ratio = (light! + 0.05) / (dark! + 0.05);
    const size = parseFloat(style.fontSize);
    const isLarge = size >= 24 || (size >= 18.66 && Number(style.fontWeight) >= 700);
    if (ratio < (isLarge ? 3 : 4.5)) low.push(`${ratio.toFixed(2)}: ${text.slice(0, 40)}`);
  }
  return { texts, low: low.slice(0, 20) };
}
