// How a search reads text; the same rule as server/glass/catalog.py.

/** Small letters without accents. */
export const plain = (text) => text.normalize("NFD").replace(/\p{M}/gu, "").toLowerCase();

/** The words of a query, plain. */
export const queryWords = (text) => plain(text).split(/\s+/).filter(Boolean);
