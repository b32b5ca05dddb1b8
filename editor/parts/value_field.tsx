/** A setting typed in place: a quantity with its unit, a word, or yes and no; what will not do gets a sentence and is not lost. */
import type { ReactNode } from 'react';
import { groundOf, setSetting } from '../document/edits.ts';
import { readSetting, type SettingFacts, settingsOf, settingText } from '../draw/settings.ts';
import { useSession, useSheet, useWorkbench } from '../workbench.ts';
import { EditedText } from './edited_text.tsx';

interface Properties {
  readonly field: string;
  readonly block: string;
  readonly setting: string;
  readonly onTab?: (back: boolean) => void;
  readonly onPaper?: true;
  readonly children?: ReactNode;
}

export function SettingField({ field, block, setting, onTab, onPaper, children }: Properties) {
  const workbench = useWorkbench();
  const sheet = useSheet();
  const scope = useSession((session) => session.scope);
  const found = groundOf(sheet, scope)?.blocks[block];
  const facts = found === undefined ? undefined : settingsOf(sheet, found).find((one) => one.name === setting);
  if (found === undefined || facts === undefined) return null;
  const put = (text: string): true | string => {
    const read = readSetting(facts, text);
    if (typeof read === 'string') return read;
    const { scope: here } = workbench.session.getState();
    workbench.document.change(
      `set ${block}.${setting} to ${text.trim() === '' ? facts.otherwise : text.trim()}`,
      `${here}/${block}`,
      (draft) => void setSetting(draft, here, block, setting, read.value),
    );
    return true;
  };
  const choices = facts.kind === 'word' ? facts.words : facts.kind === 'bool' ? ['true', 'false'] : undefined;
  const value = settingText(found, facts);
  if (choices !== undefined && children === undefined)
    return <Choice facts={facts} block={block} value={value} choices={choices} put={put} />;
  return (
    <EditedText
      field={field}
      label={`${setting} of ${block}`}
      value={value}
      change={put}
      {...(onTab === undefined ? {} : { onTab })}
      {...(onPaper === undefined ? {} : { onPaper })}
    >
      {children}
    </EditedText>
  );
}

interface ChoiceProperties {
  readonly facts: SettingFacts;
  readonly block: string;
  readonly value: string;
  readonly choices: readonly string[];
  readonly put: (text: string) => true | string;
}

function Choice({ facts, block, value, choices, put }: ChoiceProperties) {
  return (
    <select aria-label={`${facts.name} of ${block}`} value={value} onChange={(event) => put(event.target.value)}>
      {choices.map((choice) => (
        <option key={choice} value={choice}>
          {facts.kind === 'bool' ? (choice === 'true' ? 'yes' : 'no') : choice.replaceAll('_', ' ')}
        </option>
      ))}
    </select>
  );
}
