/** Injection token of the URL that connects as the role the application serves as. */
export const DATABASE_URL = Symbol('database url');
