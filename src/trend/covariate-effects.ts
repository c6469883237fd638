import type { BlockSums, Covariate } from '../sources/block-sums.ts';

/** A covariate as the fit takes it: per block its difference from the mean over blocks, 0 where nobody wrote it down. */
export interface CentredCovariate {
  readonly name: Covariate;
  readonly perBlock: Float64Array;
  /** By model and string: the mean difference of that cell's blocks; its rise is that of its usual covariate. */
  readonly perCell: ReadonlyMap<number, number>;
  /** Blocks without a value. */
  readonly missing: number;
}

/** Key of a model and string in `perCell`. */
export function cellKey(model: number, string: number): number {
  return model * 64 + string;
}

/** Name of the column that holds a covariate times the rise. */
export function covariateTerm(name: Covariate): string {
  return `rise per ${name}`;
}

/**
 * Centres the covariates that were asked for; those that no reading has, or that are the same everywhere, are left out and
 * named in `silent`.
 */
export function centreCovariates(
  sums: BlockSums,
  wanted: readonly Covariate[],
): { readonly used: CentredCovariate[]; readonly silent: Covariate[] } {
  const silent: Covariate[] = [];
  const used = wanted.flatMap((name): CentredCovariate[] => {
    const values = sums.blockCovariates[name] ?? new Float64Array(0);
    const known = values.filter((value) => !Number.isNaN(value));
    const centre = known.reduce((sum, value) => sum + value, 0) / known.length;
    if (!known.some((value) => Math.abs(value - centre) > 1e-9 * Math.max(1, Math.abs(centre)))) {
      silent.push(name);
      return [];
    }
    const perBlock = values.map((value) => (Number.isNaN(value) ? 0 : value - centre));
    return [{ name, perBlock, perCell: cellMeans(sums, perBlock), missing: values.length - known.length }];
  });
  return { used, silent };
}

function cellMeans(sums: BlockSums, perBlock: Float64Array): Map<number, number> {
  const totals = new Map<number, { sum: number; count: number }>();
  perBlock.forEach((value, block) => {
    const key = cellKey(sums.modelOfInstrument[sums.blockInstrument[block]!]!, sums.blockString[block]!);
    const total = totals.get(key) ?? { sum: 0, count: 0 };
    totals.set(key, { sum: total.sum + value, count: total.count + 1 });
  });
  return new Map([...totals].map(([key, { sum, count }]) => [key, sum / count]));
}
