/** The fields of a block in the order Tab goes through them. */
import type { Workbench } from '../workbench.ts';

/** Names of fields: the blanks on the card first; where it has none, its settings in the margin. */
export function fieldsOf(workbench: Workbench, block: string): string[] {
  const scene = workbench.scene();
  const onCard = scene.cards.get(block)?.card.fields.map((field) => `card ${block}.${field.setting}`) ?? [];
  return onCard.length > 0 ? onCard : scene.settingsOf(block).map((setting) => `set ${block}.${setting.name}`);
}

/** The field after one, or before it; undefined past the ends. */
export function fieldBeside(workbench: Workbench, block: string, field: string, back: boolean): string | undefined {
  const fields = fieldsOf(workbench, block);
  return fields[fields.indexOf(field) + (back ? -1 : 1)];
}
