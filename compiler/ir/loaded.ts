/** What is known while the slots it was loaded from stay as they are; what a nested list learns or loses leaves no trace. */

interface Known<T> {
  readonly value: T;
  readonly loads: readonly number[];
}

const nothing: readonly number[] = [];

export class Loaded<Key, T> {
  private readonly known = new Map<Key, Known<T>>();
  /** Keys of what was loaded from a slot; some may be gone by now. */
  private readonly bySlot = new Map<number, Key[]>();
  /** What stood under a key before each change inside a nested list. */
  private readonly before: (readonly [Key, Known<T> | undefined])[] = [];
  private depth = 0;

  get(key: Key): T | undefined {
    return this.known.get(key)?.value;
  }

  /** The slots a value was loaded from. */
  loads(key: Key): readonly number[] {
    return this.known.get(key)?.loads ?? nothing;
  }

  set(key: Key, value: T, loads: readonly number[] = nothing): void {
    this.remember(key);
    this.put(key, { value, loads });
  }

  /** Whether there was something under the key. */
  delete(key: Key): boolean {
    if (this.depth === 0) return this.known.delete(key);
    if (!this.known.has(key)) return false;
    this.remember(key);
    return this.known.delete(key);
  }

  /** Drops what was loaded from these slots, which may hold something else now; gives the keys. */
  forget(stores: Iterable<number>): Key[] {
    const gone: Key[] = [];
    for (const slot of stores) {
      const keys = this.bySlot.get(slot);
      if (keys === undefined) continue;
      this.bySlot.delete(slot);
      for (const key of keys) if (this.loads(key).includes(slot) && this.delete(key)) gone.push(key);
    }
    return gone;
  }

  /** Goes through a nested list. */
  nested(list: () => void): void {
    const mark = this.before.length;
    this.depth++;
    list();
    this.depth--;
    for (const [key, known] of this.before.splice(mark).reverse())
      if (known !== undefined) this.put(key, known);
      else this.known.delete(key);
  }

  private remember(key: Key): void {
    if (this.depth > 0) this.before.push([key, this.known.get(key)]);
  }

  private put(key: Key, known: Known<T>): void {
    this.known.set(key, known);
    for (const slot of known.loads) {
      const keys = this.bySlot.get(slot);
      if (keys === undefined) this.bySlot.set(slot, [key]);
      else if (keys.at(-1) !== key) keys.push(key);
    }
  }
}
