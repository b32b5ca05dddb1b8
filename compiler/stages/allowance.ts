/** How much may be made of one sheet: every operation is counted where it is made, and beyond a bound compiling stops. */

/** Operations one block may come to. */
export const BLOCK_OPERATIONS = 100_000;
/** Operations all blocks may come to together. */
export const SHEET_OPERATIONS = 400_000;
/** Numbers that memories and delay lines may keep together: 16 MB at `f64`. */
export const KEPT_NUMBERS = 2_000_000;

/** Why something is refused: a finding's id and facts. */
export interface Refusal {
  readonly id: string;
  readonly facts: Readonly<Record<string, string>>;
}

/** Counts what one compilation makes. */
export class Allowance {
  /** Operations made so far by all blocks. */
  operations = 0;
  /** Numbers kept so far. */
  kept = 0;
  private readonly blocks = new Map<string, BlockAllowance>();
  private readonly told = new Set<string>();

  /** What one block may still make; the same block gets the same. */
  of(block: string): BlockAllowance {
    let found = this.blocks.get(block);
    if (found === undefined) {
      found = new BlockAllowance(block, this);
      this.blocks.set(block, found);
    }
    return found;
  }

  /** The block that made most, and how much. */
  get largest(): readonly [block: string, operations: number] {
    let most: readonly [string, number] = ['', 0];
    for (const [block, { operations }] of this.blocks) if (operations > most[1]) most = [block, operations];
    return most;
  }

  /** The refusal the first time it is asked for; what follows from it needs no more words. */
  once(key: string, refusal: Refusal): Refusal | undefined {
    if (this.told.has(key)) return undefined;
    this.told.add(key);
    return refusal;
  }
}

/** Counts what one block makes of what its sheet may. */
export class BlockAllowance {
  /** Operations made so far. */
  operations = 0;
  private readonly block: string;
  private readonly sheet: Allowance;

  constructor(block: string, sheet: Allowance) {
    this.block = block;
    this.sheet = sheet;
  }

  /** Counts operations about to be made; false when they are too many. */
  take(operations: number): boolean {
    this.operations += operations;
    this.sheet.operations += operations;
    return this.operations <= BLOCK_OPERATIONS && this.sheet.operations <= SHEET_OPERATIONS;
  }

  /** Counts numbers about to be kept from tick to tick; false when they are too many. */
  keep(numbers: number): boolean {
    if (this.sheet.kept + numbers > KEPT_NUMBERS) return false;
    this.sheet.kept += numbers;
    return true;
  }

  /** What there is to say of operations that were refused: once a block, once a sheet. */
  tooMany(): Refusal | undefined {
    if (this.operations > BLOCK_OPERATIONS)
      return this.sheet.once(`block ${this.block}`, {
        id: 'block_too_large',
        facts: { limit: String(BLOCK_OPERATIONS) },
      });
    const [largest, operations] = this.sheet.largest;
    const facts = { limit: String(SHEET_OPERATIONS), largest, operations: String(operations) };
    return this.sheet.once('operations', { id: 'sheet_too_large', facts });
  }

  /** What there is to say of numbers that were refused. */
  tooMuchKept(): Refusal | undefined {
    return this.sheet.once('kept', { id: 'too_much_kept', facts: { limit: String(KEPT_NUMBERS) } });
  }
}
