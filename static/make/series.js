// Several amounts in one field. Pure.

/** The texts of single amounts in what was typed: "0.5 1 2", "0,5; 1; 2", "0.5, 1, 2" and "0.5,1,2" alike. A comma stands between two amounts where a space follows it, where there are several, or where the number has a point already. */
export function numbersIn(typed) {
  return typed.split(/[\s;]+/).flatMap((text) => {
    const bare = text.replace(/^,+|,+$/g, "");
    return bare.includes(".") || bare.split(",").length > 2 ? bare.split(",") : [bare];
  }).filter(Boolean);
}
