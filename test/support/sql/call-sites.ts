import { relative } from 'node:path';
import ts from 'typescript';
import { ConstantText } from './constant-text.js';
import { ownSources } from './program.js';

/** Where the application asks the database something. */
export interface CallSite {
  /** Path from the root of the project, and the line. */
  path: string;
  line: number;
  /** `query` for SQL; else the method of the library that makes SQL for an entity. */
  method: string;
  /** Every text the SQL can be; undefined where it is not known before the program runs. */
  texts?: string[];
  /** The tables of the classes a call of the library is about, and the texts it is handed. */
  tables: string[];
  conditions: string[];
  call: ts.CallExpression | ts.PropertyAccessExpression;
}

/** Methods of the library's managers that send nothing. */
const SENDS_NOTHING = new Set([
  'create',
  'createQueryRunner',
  'connect',
  'release',
  'initialize',
  'destroy',
  'end',
  'on',
  'once',
  'getMetadata',
  'runMigrations',
  'transaction',
]);

const read = new WeakMap<ts.Program, CallSite[]>();

/** Every place in the sources where something is sent to the database; read once a program. */
export function callSites(program: ts.Program): CallSite[] {
  const sites = read.get(program) ?? readSites(program);
  read.set(program, sites);
  return sites;
}

function readSites(program: ts.Program): CallSite[] {
  const checker = program.getTypeChecker();
  const sources = ownSources(program);
  const constants = new ConstantText(checker, sources);
  const methods = databaseMethods(program);
  const found: CallSite[] = [];
  for (const source of sources) {
    const visit = (node: ts.Node): void => {
      const site = siteOf(node, methods, checker, constants);
      if (site) found.push({ ...site, ...placeOf(node) });
      ts.forEachChild(node, visit);
    };
    visit(source);
  }
  return found;
}

function siteOf(
  node: ts.Node,
  methods: ReadonlySet<string>,
  checker: ts.TypeChecker,
  constants: ConstantText,
): Pick<CallSite, 'method' | 'texts' | 'tables' | 'conditions' | 'call'> | undefined {
  if (ts.isCallExpression(node) && ts.isIdentifier(node.expression) && node.expression.text === 'prepared') {
    const texts = node.arguments[1] && constants.ofMember(node.arguments[1], 'text');
    return { method: 'query', texts, tables: [], conditions: [], call: node };
  }
  if (!ts.isPropertyAccessExpression(node) || !methods.has(node.name.text)) return undefined;
  if (!isDatabase(checker.getTypeAtLocation(node.expression))) return undefined;
  const method = node.name.text;
  const call = node.parent;
  // a method that is handed on instead of called is a place nobody can read
  if (!ts.isCallExpression(call) || call.expression !== node) {
    return isMethod(checker, node) && !SENDS_NOTHING.has(method)
      ? { method, tables: [], conditions: [], call: node }
      : undefined;
  }
  if (SENDS_NOTHING.has(method)) return undefined;
  if (method === 'query') {
    const [sql] = call.arguments;
    const texts = sql && (constants.of(sql) ?? constants.ofMember(sql, 'text'));
    return { method, texts, tables: [], conditions: [], call };
  }
  const conditions = call.arguments.flatMap((argument) => constants.of(argument) ?? []);
  return { method, tables: tablesIn(call, checker), conditions, call };
}

/** Managers, runners and sources of the library, its builders, and clients of the driver. */
const DATABASE_TYPES =
  /^(EntityManager|QueryRunner|DataSource|Repository|\w*QueryBuilder|Client|ClientBase|Pool|PoolClient)$/;
const IN_LIBRARIES = /\/node_modules\/(typeorm|@types\/pg)\//;

function isDatabase(type: ts.Type): boolean {
  const symbol = type.getSymbol();
  const file = symbol?.declarations?.[0]?.getSourceFile().fileName ?? '';
  return DATABASE_TYPES.test(symbol?.name ?? '') && IN_LIBRARIES.test(file);
}

/** Whatever can be called on one of them; the type of nothing else needs to be asked. */
function databaseMethods(program: ts.Program): Set<string> {
  const names = new Set<string>();
  for (const source of program.getSourceFiles().filter((file) => IN_LIBRARIES.test(file.fileName))) {
    const visit = (node: ts.Node): void => {
      const isType = ts.isClassDeclaration(node) || ts.isInterfaceDeclaration(node);
      if (isType && DATABASE_TYPES.test(node.name?.text ?? '')) {
        for (const { name } of node.members) if (name && ts.isIdentifier(name)) names.add(name.text);
      } else ts.forEachChild(node, visit);
    };
    visit(source);
  }
  return names;
}

function isMethod(checker: ts.TypeChecker, node: ts.PropertyAccessExpression): boolean {
  return checker.getTypeAtLocation(node).getCallSignatures().length > 0;
}

/** The tables of the classes the first argument can be. */
function tablesIn(call: ts.CallExpression, checker: ts.TypeChecker): string[] {
  const [first] = call.arguments;
  if (!first) return [];
  const type = checker.getTypeAtLocation(first);
  const made = (type.isUnion() ? type.types : [type]).flatMap((part) => part.getConstructSignatures());
  return made.flatMap((signature) => tableOf(signature.getReturnType().getSymbol()?.valueDeclaration) ?? []);
}

/** What stands in `@Entity('...')` over a class. */
function tableOf(declaration: ts.Declaration | undefined): string | undefined {
  if (!declaration || !ts.isClassDeclaration(declaration)) return undefined;
  for (const { expression } of ts.getDecorators(declaration) ?? []) {
    if (!ts.isCallExpression(expression) || expression.expression.getText() !== 'Entity') continue;
    const [name] = expression.arguments;
    return name && ts.isStringLiteralLike(name) ? name.text : undefined;
  }
  return undefined;
}

export function placeOf(node: ts.Node): { path: string; line: number } {
  const source = node.getSourceFile();
  const { line } = source.getLineAndCharacterOfPosition(node.getStart());
  return { path: relative('.', source.fileName), line: line + 1 };
}
