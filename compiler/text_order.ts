/** The order in which texts come wherever an order is needed: by code points, the same in every language and place. */

export function compareText(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0;
}
