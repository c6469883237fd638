/**
 * The data of a model: named columns of one length. A column is either numbers (covariates, responses, weights, or
 * labels written as numbers) or text (labels).
 */
export type Columns = Readonly<Record<string, ArrayLike<number> | readonly string[]>>;

/** A numeric column that enters the fixed part as it is. */
export interface NumericTerm {
  readonly numeric: string;
}

/**
 * A column of labels that enters the fixed part. Levels stand in sorted order (numbers by size, text by code unit).
 *
 * - `treatment` (default): one column a level but the first, which is the reference.
 * - `sum`: one column a level but the last, which gets -1 in each; the coefficients of all levels sum to zero.
 * - `indicator`: one column for every level; for models without an intercept, or inside interactions.
 */
export interface CategoricalTerm {
  readonly categorical: string;
  readonly contrasts?: 'treatment' | 'sum' | 'indicator';
}

/** The products of the columns of two or more terms; the terms themselves enter only where they are listed too. */
export interface InteractionTerm {
  readonly interaction: readonly (NumericTerm | CategoricalTerm)[];
}

export type FixedTerm = NumericTerm | CategoricalTerm | InteractionTerm;

/** A ready model matrix for the fixed part: one array a column, each as long as the response; no intercept is added. */
export interface DesignMatrix {
  readonly names: readonly string[];
  readonly columns: readonly ArrayLike<number>[];
}

/**
 * Random effects that share a covariance matrix.
 *
 * `group` names the columns whose combined labels are the levels. `effects` names numeric columns, `'1'` being the
 * random intercept. With `correlated` (default) the covariance of the effects is free; with `independent` it is
 * diagonal. Terms with the same grouping are allowed and are independent of each other.
 */
export interface RandomTerm {
  readonly group: readonly string[];
  readonly effects: readonly string[];
  readonly covariance?: 'correlated' | 'independent';
}

/**
 * A linear mixed model `y = X beta + Z b + e`, with `var(e_i) = sigma^2 / w_i`.
 *
 * `intercept` (default true) puts a column of ones before the fixed terms; it is ignored with a ready matrix.
 * `repeats` says that each row stands for `count` equal rows whose mean is the response and whose sum of squares about
 * that mean is `sumOfSquares`; the fit is then that of the rows before they were collapsed.
 */
export interface MixedDescription {
  readonly response: string;
  readonly intercept?: boolean;
  readonly fixed: readonly FixedTerm[] | DesignMatrix;
  readonly random: readonly RandomTerm[];
  readonly weights?: string;
  readonly repeats?: { readonly count: string; readonly sumOfSquares: string };
}

export interface MixedOptions {
  /** Restricted or full maximum likelihood; default `REML`. */
  readonly method?: 'REML' | 'ML';
  /** Level of the intervals; default 0.95. */
  readonly level?: number;
  /** `theta` of a fit of the same description to much the same data, from which the search then starts. */
  readonly start?: ArrayLike<number>;
}
