export const portFields = ['shell_port', 'iopub_port', 'stdin_port', 'control_port', 'hb_port'] as const;

/** What a connection file tells: where to listen, and how messages are signed. */
export interface Connection extends Readonly<Record<(typeof portFields)[number], number>> {
  readonly transport: 'tcp' | 'ipc';
  /** An address of this machine alone, or for ipc the beginning of the sockets' paths. */
  readonly ip: string;
  readonly key: string;
}

/**
 * Reads a connection file, as the Jupyter client writes it.
 *
 * @param name the file's name, for messages
 * @throws {Error} when it is no such file, or asks for what we do not do; the message names file and field
 */
export function readConnection(text: string, name: string): Connection {
  const refuse = (what: string, expected: string): never => {
    throw new Error(`${name}: ${what}; expected ${expected}`);
  };
  let data: unknown;
  try {
    data = JSON.parse(text);
  } catch {
    refuse('it is not JSON', 'a connection file as Jupyter clients write it');
  }
  if (typeof data !== 'object' || data === null || Array.isArray(data))
    refuse('it is not an object of JSON', 'a connection file as Jupyter clients write it');
  const fields = data as Readonly<Record<string, unknown>>;
  const refuseField = (field: string, expected: string): never => {
    const found =
      field in fields && field !== 'key' ? JSON.stringify(fields[field]) : field in fields ? 'no text' : 'nothing';
    return refuse(`field "${field}": found ${found}`, expected);
  };

  const { transport, ip, key, signature_scheme: scheme } = fields;
  if (transport !== 'tcp' && transport !== 'ipc') return refuseField('transport', '"tcp" or "ipc"');
  if (typeof ip !== 'string' || ip === '')
    return refuseField('ip', 'an address of this machine alone, such as "127.0.0.1"');
  if (transport === 'tcp' && !/^(127\.\d+\.\d+\.\d+|localhost)$/.test(ip))
    return refuseField('ip', 'an address of this machine alone, such as "127.0.0.1"');
  if (typeof key !== 'string') return refuseField('key', 'the key messages are signed with');
  if (scheme !== 'hmac-sha256') return refuseField('signature_scheme', '"hmac-sha256"');
  const ports = portFields.map((field) => {
    const port = fields[field];
    if (typeof port === 'number' && Number.isInteger(port) && port >= 1 && port <= 65_535) return port;
    return refuseField(field, 'a whole number from 1 to 65535');
  });
  const twice = ports.findIndex((port, index) => ports.indexOf(port) < index);
  if (twice >= 0) refuseField(portFields[twice]!, `another number than "${portFields[ports.indexOf(ports[twice]!)]!}"`);
  const [shell_port, iopub_port, stdin_port, control_port, hb_port] = ports as [number, number, number, number, number];
  return { transport, ip, key, shell_port, iopub_port, stdin_port, control_port, hb_port };
}
