/** A sheet in a link: its text, deflated, in the address's fragment, which no server sees. */
import { deflateSync, inflateSync, strFromU8, strToU8 } from 'fflate';

const KEY = '#sheet=';

/** Longer links are cut off by mail and chat. */
export const LONGEST_LINK = 16_000;

export function linkTo(address: string, name: string, text: string): string {
  const packed = deflateSync(strToU8(`${name}\n${text}`), { level: 9 });
  return `${address.replace(/#.*$/, '')}${KEY}${base64(packed)}`;
}

/** The sheet a fragment holds; undefined where it holds none, or none that can be unpacked. */
export function sheetInLink(fragment: string): { name: string; text: string } | undefined {
  if (!fragment.startsWith(KEY)) return undefined;
  try {
    const whole = strFromU8(inflateSync(bytes(fragment.slice(KEY.length))));
    const end = whole.indexOf('\n');
    return { name: whole.slice(0, end), text: whole.slice(end + 1) };
  } catch {
    return undefined;
  }
}

function base64(data: Uint8Array): string {
  const text = Array.from(data, (byte) => String.fromCharCode(byte)).join('');
  return btoa(text).replaceAll('+', '-').replaceAll('/', '_').replaceAll('=', '');
}

function bytes(text: string): Uint8Array {
  return Uint8Array.from(atob(text.replaceAll('-', '+').replaceAll('_', '/')), (character) => character.charCodeAt(0));
}
