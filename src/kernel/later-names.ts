import ts from 'typescript';

/**
 * Names a cell uses only where it does not matter that a later cell declares them: in functions, which may be called
 * after that cell has run, and in types. It is the line the compiler draws in a single file.
 */
export function deferredNames(file: ts.SourceFile): string[] {
  const deferred = new Set<string>();
  const immediate = new Set<string>();
  const visit = (node: ts.Node, isDeferred: boolean): void => {
    if (ts.isIdentifier(node)) (isDeferred ? deferred : immediate).add(node.text);
    const called = ts.isCallExpression(node) ? node.expression : null;
    ts.forEachChild(node, (child) => {
      if (isMemberName(node, child)) return;
      const unwrapped = bare(child);
      // A function that is called where it stands runs at once.
      if (child === called && ts.isFunctionLike(unwrapped)) visit(unwrapped, isDeferred);
      else visit(child, isDeferred || isDeferring(child));
    });
  };
  visit(file, false);
  return [...deferred].filter((name) => !immediate.has(name));
}

function bare(node: ts.Node): ts.Node {
  return ts.isParenthesizedExpression(node) ? bare(node.expression) : node;
}

function isDeferring(node: ts.Node): boolean {
  if (ts.isPropertyDeclaration(node)) return !node.modifiers?.some(({ kind }) => kind === ts.SyntaxKind.StaticKeyword);
  return (
    ts.isFunctionLike(node) || ts.isTypeNode(node) || ts.isInterfaceDeclaration(node) || ts.isTypeAliasDeclaration(node)
  );
}

/** Whether a child names a member of something else: what follows a dot, a key, a label. */
function isMemberName(node: ts.Node, child: ts.Node): boolean {
  if (ts.isPropertyAccessExpression(node)) return child === node.name;
  if (ts.isQualifiedName(node)) return child === node.right;
  if (ts.isBindingElement(node) || ts.isImportSpecifier(node) || ts.isExportSpecifier(node))
    return child === node.propertyName;
  if (ts.isLabeledStatement(node) || ts.isBreakOrContinueStatement(node)) return child === node.label;
  const isMember =
    ts.isPropertyAssignment(node) || ts.isClassElement(node) || ts.isTypeElement(node) || ts.isEnumMember(node);
  return isMember && child === node.name && ts.isIdentifier(child);
}
