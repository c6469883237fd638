/** What to mind where a saddle is moved; every worksheet carries it. Common practice, no source. */
export const cautions: readonly string[] = [
  'Slacken the string before you move a saddle that carries its pull, and protect your eyes: a string can break under tension.',
  "Wood and metal tolerances differ; stop where a screw or the saddle's travel ends. The maker's instructions and your local rules come first.",
  'Unplug a mains device, and take the battery out, before you open anything electric; leave mains work to a qualified person.',
];
