/** The machines that come with the editor, each loaded when it is asked for. */
const files = import.meta.glob<string>('../../samples/*/*.sheet.json', { query: '?raw', import: 'default' });

/** Names of the samples' sheets, as their files are called. */
export const SAMPLES: readonly string[] = Object.keys(files).map(nameOf).sort();

/** The sample a first visit starts with. */
export const FIRST_SAMPLE: string | undefined = ['row_scout', 'first_loop'].find((name) => SAMPLES.includes(name));

/** The text of a sample's sheet. */
export async function sampleText(name: string): Promise<string | undefined> {
  const path = Object.keys(files).find((one) => nameOf(one) === name);
  return path === undefined ? undefined : files[path]?.();
}

function nameOf(path: string): string {
  return path.replace(/^.*\//, '').replace(/\.sheet\.json$/, '');
}
