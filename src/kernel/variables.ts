/** Holds one top-level name of the notebook, shared by all cells. */
export class Box {
  /** The value; undefined while there is none. */
  v: unknown = undefined;
  isDeclared = false;
  isConstant = false;
  /** Why the name has no value, where more is known than that it has none. */
  reason = '';

  constructor(readonly name: string) {}

  /** Declares the name, or declares it again. */
  set d(value: unknown) {
    this.isDeclared = true;
    this.v = value;
  }

  get d(): unknown {
    return this.v;
  }

  get checked(): unknown {
    this.check();
    return this.v;
  }

  set checked(value: unknown) {
    this.check();
    this.v = value;
  }

  private check(): void {
    if (!this.isDeclared) throw new ReferenceError(`${this.name} is not defined${this.reason && `: ${this.reason}`}`);
  }
}

/** All top-level names of one session. */
export class Variables {
  private readonly boxes = new Map<string, Box>();

  box(name: string): Box {
    let box = this.boxes.get(name);
    if (!box) this.boxes.set(name, (box = new Box(name)));
    return box;
  }

  /** Whether a name has a value, and may be assigned. */
  kind(name: string): 'const' | 'other' | null {
    const box = this.boxes.get(name);
    if (!box?.isDeclared) return null;
    return box.isConstant ? 'const' : 'other';
  }
}
