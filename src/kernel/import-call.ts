import type { ImportDeclaration } from 'acorn';

/**
 * The arguments with which a static import is made while the cell runs: the module, pairs of an exported name and the
 * box of its local one, and the import's attributes.
 *
 * @param box the code for the box of a name
 */
export function importCall(node: ImportDeclaration, box: (name: string) => string): string {
  const names = node.specifiers.map((specifier) => {
    const local = box(specifier.local.name);
    if (specifier.type === 'ImportNamespaceSpecifier') return `["*", ${local}]`;
    if (specifier.type === 'ImportDefaultSpecifier') return `["default", ${local}]`;
    const { imported } = specifier;
    return `[${JSON.stringify(imported.type === 'Identifier' ? imported.name : imported.value)}, ${local}]`;
  });
  const attributes = node.attributes.map(({ key, value }) => {
    return `${JSON.stringify(key.type === 'Identifier' ? key.name : key.value)}: ${JSON.stringify(value.value)}`;
  });
  return `${JSON.stringify(node.source.value)}, [${names.join(', ')}], {${attributes.join(', ')}}`;
}
