/** Whether cards are near enough to be drawn in full; on the shelf they always are. */
import { createContext } from 'react';

export const NearContext = createContext(true);
