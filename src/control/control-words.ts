import { dayText } from './instant.ts';
import type { ControlPoint } from './control-chart.ts';
import type { ControlSignal } from './shop-control.ts';

/** What a signal says, and what to look at first. */
export interface SignalWords {
  readonly what: string;
  readonly cause: string;
}

/** A signal in plain words: who, which way, how far, since when, and the likely cause. */
export function signalWords(signal: ControlSignal, window: number): SignalWords {
  const { of, name, side, size, fromAt, seenAt, toAt, lasts, compared } = signal;
  const all = compared ? 'All technicians leave' : 'The bench leaves';
  const who = { shop: all, technician: `${name} leaves`, model: `${name} is left` }[of];
  const than = of === 'model' ? `${side} of the same hands' other models` : `${side} of the standard`;
  const since = lasts ? `since ${dayText(fromAt)}` : `from ${dayText(fromAt)} to ${dayText(toAt)}`;
  const seen = dayText(seenAt) === dayText(fromAt) ? '' : `, seen on ${dayText(seenAt)}`;
  const saddles = of === 'model' ? '' : ' saddles';
  const much = Math.abs(size) <= window ? ', within the window of one string' : '';
  return {
    what: `${who}${saddles} ${Math.abs(size).toFixed(1)} cents ${than}, ${since}${seen}${much}.`,
    cause: causeOf(signal),
  };
}

function causeOf({ of, side, compared }: ControlSignal): string {
  const move = side === 'sharp' ? 'Saddles stand too far forward' : 'Saddles stand too far back';
  switch (of) {
    case 'shop':
      return compared
        ? `${move} with everyone: the standard or the tuner changed, or the standard is not followed.`
        : `${move}: the hand, the tuner or the standard changed, or the standard is not followed; with no other technician to compare, the log cannot tell which.`;
    case 'technician':
      return compared
        ? `${move} with one technician and not with all: the hand (pressure, playing position), the tuner, or a habit other than the standard.`
        : `${move}: the hand, the tuner or the standard; with no other technician to compare, the log cannot tell which.`;
    case 'model':
      return 'One model and no hand: its strings or parts changed, or its entry in the standard does not suit it.';
  }
}

/** An instrument that stands out, in plain words. */
export function oddWords({ instrument, model, technician, at, departure }: ControlPoint): string {
  const by = technician === '' ? '' : `, ${technician}`;
  const side = departure < 0 ? 'flat' : 'sharp';
  return `${instrument} (${model}${by}, ${dayText(at)}): ${Math.abs(departure).toFixed(1)} cents ${side} of the standard, unlike those before it. Look at its readings again.`;
}
