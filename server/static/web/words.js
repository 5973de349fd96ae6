// The texts of scripts in the language of the page. The catalogue is a file of its own; without it they are English.

const catalogue = () => globalThis.django;

export const gettext = (text) => catalogue()?.gettext(text) ?? text;

export const ngettext = (one, many, n) => catalogue()?.ngettext(one, many, n) ?? (n === 1 ? one : many);

/** A text with its holes, such as %(name)s, filled. */
export function filled(text, told) {
  return text.replace(/%\((\w+)\)s/g, (hole, name) => (name in told ? String(told[name]) : hole));
}
