/** placeholder */
export async function main(): Promise<number> {
  return 0;
}
