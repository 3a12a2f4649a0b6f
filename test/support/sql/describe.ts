import type { Client, Connection, Submittable } from 'pg';

/** A column of what a statement answers, as PostgreSQL says without running it. */
export interface Described {
  name: string;
  type: number;
}

/**
 * What a statement would answer, asked by the protocol's own Parse and Describe: no column for one that answers none.
 * Rejects with what PostgreSQL says of a statement it cannot run.
 */
export function describeStatement(client: Client, text: string): Promise<Described[]> {
  return new Promise((resolve, reject) => {
    client.query(new Describing(text, resolve, reject));
  });
}

interface ToServer {
  parse(query: { text: string; name: string; types: number[] }): void;
  describe(what: { type: 'S'; name: string }): void;
  sync(): void;
}

/** One exchange with the server, in the shape the driver hands its own queries over. */
class Describing implements Submittable {
  private columns: Described[] = [];

  constructor(
    private readonly text: string,
    private readonly resolve: (columns: Described[]) => void,
    private readonly reject: (error: Error) => void,
  ) {}

  submit(connection: Connection): void {
    const server = connection as unknown as ToServer;
    server.parse({ text: this.text, name: '', types: [] });
    server.describe({ type: 'S', name: '' });
    server.sync();
  }

  handleRowDescription({ fields }: { fields: { name: string; dataTypeID: number }[] }): void {
    this.columns = fields.map(({ name, dataTypeID }) => ({ name, type: dataTypeID }));
  }

  /** The driver tells a query of nothing that comes after its error. */
  handleError(error: Error): void {
    this.reject(error);
  }

  handleReadyForQuery(): void {
    this.resolve(this.columns);
  }
}
