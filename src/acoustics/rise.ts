import { kappa } from './frets.ts';

/**
 * The saddle-invariant rise `t = cents17 - kappa cents12`, in cents: what string, frets, nut and hand do to the upper
 * neck, unchanged (to first order) by a saddle move.
 */
export function rise(cents12: number, cents17: number): number {
  return cents17 - kappa * cents12;
}

/** The even split: the share at which the errors at the 12th and the 17th are equal and opposite, `kappa / (1 + kappa)`. */
export const evenShare: number = kappa / (1 + kappa);

/**
 * Errors left at the 12th and the 17th when a rise is shared: `cents12 = -q t / kappa`, `cents17 = (1 - q) t`.
 *
 * @param share q: 0 makes the 12th exact, 1 the 17th
 */
export function sharedCents(share: number, riseCents: number): { readonly cents12: number; readonly cents17: number } {
  return { cents12: (-share * riseCents) / kappa, cents17: (1 - share) * riseCents };
}
