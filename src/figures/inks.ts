/**
 * Colours of marks, from the palette of Okabe & Ito (2008, "Color Universal Design", jfly.uni-koeln.de/color; hex values
 * from memory): told apart with any colour vision, and at least 3 to 1 against white and against near-black paper. No
 * meaning hangs on colour alone: shape, dash or position says the same.
 */
export const inks = { blue: '#0072B2', vermilion: '#D55E00' } as const;
