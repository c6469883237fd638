import { escape } from 'html-escaper';

/**
 * A whole HTML page around a body: no network, no script, only the styles in it.
 *
 * @param title plain text
 * @param css   the page theme and the page's own rules, put into the page as they are
 * @param body  HTML, its text escaped already
 */
export function pageShell(title: string, css: readonly string[], body: string): string {
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<title>${escape(title)}</title>
<style>
${css.join('\n')}
</style>
</head>
<body>
${body}
</body>
</html>
`;
}
