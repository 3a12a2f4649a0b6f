import ts from 'typescript';

/** More ways to put one statement together than this, and it is not read as a constant. */
const WAYS_MAX = 300;
const DEPTH_MAX = 40;

/** What the parameters of a function stand for while its body is read. */
type Bound = ReadonlyMap<ts.Symbol, ts.Expression | readonly string[]>;

/**
 * Every text an expression can be, read without running it: through constants, imports, templates, both sides of a
 * choice, members of objects, calls of functions that put text together, and, for a parameter, whatever it is called with.
 */
export class ConstantText {
  private readonly calls = new Map<ts.Symbol, ts.CallExpression[]>();
  private depth = 0;

  constructor(
    private readonly checker: ts.TypeChecker,
    sources: readonly ts.SourceFile[],
  ) {
    for (const source of sources) this.indexCalls(source);
  }

  /** The texts, or undefined when one part of them is not known before the program runs. */
  of(expression: ts.Expression, bound: Bound = new Map()): string[] | undefined {
    if (this.depth > DEPTH_MAX) return undefined;
    this.depth += 1;
    try {
      const texts = this.read(plain(expression), bound) ?? this.literalTypes(expression);
      const different = texts && [...new Set(texts)];
      return different && different.length <= WAYS_MAX ? different : undefined;
    } finally {
      this.depth -= 1;
    }
  }

  /** The texts of one member of what an expression can be, such as `text` of a prepared statement. */
  ofMember(object: ts.Expression, key: string): string[] | undefined {
    return this.members(object, [key], new Map());
  }

  private read(node: ts.Expression, bound: Bound): string[] | undefined {
    if (ts.isStringLiteralLike(node) || ts.isNumericLiteral(node)) return [node.text];
    if (ts.isTemplateExpression(node)) return this.template(node, bound);
    if (ts.isConditionalExpression(node)) return this.either([node.whenTrue, node.whenFalse], bound);
    if (ts.isBinaryExpression(node)) return this.binary(node, bound);
    if (ts.isIdentifier(node)) return this.identifier(node, bound);
    if (ts.isPropertyAccessExpression(node)) return this.members(node.expression, [node.name.text], bound);
    if (ts.isElementAccessExpression(node)) {
      return this.members(node.expression, this.of(node.argumentExpression, bound), bound);
    }
    if (ts.isCallExpression(node)) return this.call(node, bound);
    return undefined;
  }

  private template(node: ts.TemplateExpression, bound: Bound): string[] | undefined {
    let texts: string[] = [node.head.text];
    for (const span of node.templateSpans) {
      const parts = this.of(span.expression, bound);
      if (!parts || parts.length * texts.length > WAYS_MAX) return undefined;
      texts = texts.flatMap((text) => parts.map((part) => text + part + span.literal.text));
    }
    return texts;
  }

  private either(expressions: readonly ts.Expression[], bound: Bound): string[] | undefined {
    const texts: string[] = [];
    for (const expression of expressions) {
      const some = this.of(expression, bound);
      if (!some) return undefined;
      texts.push(...some);
    }
    return texts;
  }

  private binary(node: ts.BinaryExpression, bound: Bound): string[] | undefined {
    const { kind } = node.operatorToken;
    if (kind === ts.SyntaxKind.PlusToken) {
      const left = this.of(node.left, bound);
      const right = this.of(node.right, bound);
      return left && right && left.flatMap((text) => right.map((rest) => text + rest));
    }
    if (kind === ts.SyntaxKind.BarBarToken || kind === ts.SyntaxKind.QuestionQuestionToken) {
      return this.either([node.left, node.right], bound);
    }
    return undefined;
  }

  private identifier(node: ts.Identifier, bound: Bound): string[] | undefined {
    if (node.text === 'undefined') return ['undefined'];
    const symbol = this.symbolOf(node);
    if (!symbol) return undefined;
    const known = bound.get(symbol);
    if (known) return isTexts(known) ? [...known] : this.of(known);
    const values = this.valuesOf(symbol, bound);
    return values && this.either(values, bound);
  }

  /** What a name can stand for: its initial value, or what its function is called with. */
  private valuesOf(symbol: ts.Symbol, bound: Bound): ts.Expression[] | undefined {
    const declaration = symbol.valueDeclaration;
    if (!declaration) return undefined;
    if (ts.isVariableDeclaration(declaration)) {
      if (!declaration.initializer || !(ts.getCombinedNodeFlags(declaration) & ts.NodeFlags.Const)) return undefined;
      return [declaration.initializer];
    }
    if (ts.isParameter(declaration)) return this.argumentsFor(declaration);
    if (ts.isBindingElement(declaration)) return this.destructured(declaration, bound);
    if (ts.isShorthandPropertyAssignment(declaration)) {
      const value = this.checker.getShorthandAssignmentValueSymbol(declaration);
      return value && this.valuesOf(this.resolved(value), bound);
    }
    if (ts.isPropertyAssignment(declaration)) return [declaration.initializer];
    return undefined;
  }

  private argumentsFor(parameter: ts.ParameterDeclaration): ts.Expression[] | undefined {
    const owner = parameter.parent;
    if (parameter.dotDotDotToken) return undefined;
    const symbol = this.symbolOfFunction(owner);
    const calls = symbol && this.calls.get(symbol);
    if (!calls || calls.length === 0) return undefined;
    const index = owner.parameters.indexOf(parameter);
    const values = calls.map((call) => call.arguments[index] ?? parameter.initializer);
    return values.every((value) => value !== undefined) ? values : undefined;
  }

  private symbolOfFunction(owner: ts.SignatureDeclaration): ts.Symbol | undefined {
    const named = owner.name ?? (ts.isVariableDeclaration(owner.parent) ? owner.parent.name : undefined);
    return named && this.checker.getSymbolAtLocation(named);
  }

  private destructured(element: ts.BindingElement, bound: Bound): ts.Expression[] | undefined {
    const pattern = element.parent;
    if (!ts.isObjectBindingPattern(pattern)) return undefined;
    const from = pattern.parent;
    const key = (element.propertyName ?? element.name).getText();
    const wholes = ts.isParameter(from) ? this.argumentsFor(from) : from.initializer ? [from.initializer] : undefined;
    const found = wholes?.map((whole) => this.memberValues(whole, [key], bound));
    return found?.every((some) => some !== undefined) ? found.flat() : undefined;
  }

  private members(object: ts.Expression, keys: readonly string[] | undefined, bound: Bound): string[] | undefined {
    const values = this.memberValues(object, keys, bound);
    return values && this.either(values, bound);
  }

  /** The members of these names, or all of them where the names are not known. */
  private memberValues(
    object: ts.Expression,
    keys: readonly string[] | undefined,
    bound: Bound,
  ): ts.Expression[] | undefined {
    const wholes = this.objects(object, bound);
    if (!wholes) return undefined;
    const values = wholes.flatMap((whole) => valuesIn(whole, keys));
    return values.length > 0 && values.every((value) => value !== undefined) ? values : undefined;
  }

  /** The object and array literals an expression can be. */
  private objects(
    expression: ts.Expression,
    bound: Bound,
  ): (ts.ObjectLiteralExpression | ts.ArrayLiteralExpression)[] | undefined {
    const node = plain(expression);
    if (ts.isObjectLiteralExpression(node) || ts.isArrayLiteralExpression(node)) return [node];
    let values: ts.Expression[] | undefined;
    if (ts.isConditionalExpression(node)) values = [node.whenTrue, node.whenFalse];
    else if (ts.isIdentifier(node)) {
      const symbol = this.symbolOf(node);
      const known = symbol && bound.get(symbol);
      values = known && !isTexts(known) ? [known] : symbol && this.valuesOf(symbol, bound);
    } else if (ts.isPropertyAccessExpression(node))
      values = this.memberValues(node.expression, [node.name.text], bound);
    else if (ts.isElementAccessExpression(node)) {
      values = this.memberValues(node.expression, this.of(node.argumentExpression, bound), bound);
    }
    const found = values?.map((value) => this.objects(value, bound));
    return found?.every((some) => some !== undefined) ? found.flat() : undefined;
  }

  private call(node: ts.CallExpression, bound: Bound): string[] | undefined {
    if (ts.isPropertyAccessExpression(node.expression)) {
      const { name, expression } = node.expression;
      if (name.text === 'join') return this.joined(expression, node.arguments[0], bound);
      if (name.text === 'trim') return this.of(expression, bound)?.map((text) => text.trim());
    }
    if (ts.isIdentifier(node.expression) && node.expression.text === 'String')
      return this.of(node.arguments[0]!, bound);
    const declaration = this.checker.getResolvedSignature(node)?.declaration;
    const body =
      declaration && !ts.isJSDocSignature(declaration) && 'body' in declaration ? declaration.body : undefined;
    if (!body || !declaration) return undefined;
    const results = ts.isBlock(body) ? returned(body) : [body];
    const inner = new Map<ts.Symbol, ts.Expression | readonly string[]>();
    for (const [index, parameter] of declaration.parameters.entries()) {
      const argument = node.arguments[index] ?? (ts.isParameter(parameter) ? parameter.initializer : undefined);
      const symbol = this.checker.getSymbolAtLocation(parameter.name);
      if (argument && symbol) inner.set(symbol, this.of(argument, bound) ?? argument);
    }
    return results && this.either(results, inner);
  }

  /** `[a, b].join(c)` and `LIST.map((one) => text).join(c)`. */
  private joined(list: ts.Expression, by: ts.Expression | undefined, bound: Bound): string[] | undefined {
    const between = by ? this.of(by, bound) : [','];
    const parts = this.listed(plain(list), bound);
    if (!parts || between?.length !== 1) return undefined;
    return parts.reduce<string[] | undefined>(
      (texts, options, index) =>
        texts && texts.length * options.length <= WAYS_MAX
          ? texts.flatMap((text) => options.map((option) => (index === 0 ? option : text + between[0]! + option)))
          : undefined,
      [''],
    );
  }

  private listed(list: ts.Expression, bound: Bound): string[][] | undefined {
    if (ts.isCallExpression(list) && ts.isPropertyAccessExpression(list.expression)) {
      const map = list.arguments[0];
      if (list.expression.name.text !== 'map' || !map || !ts.isArrowFunction(map)) return undefined;
      const parts = this.listed(plain(list.expression.expression), bound);
      const parameter = map.parameters[0] && this.checker.getSymbolAtLocation(map.parameters[0].name);
      if (!parts || !parameter || ts.isBlock(map.body)) return undefined;
      const made = parts.map((part) => this.of(map.body as ts.Expression, new Map([...bound, [parameter, part]])));
      return made.every((some) => some !== undefined) ? made : undefined;
    }
    const arrays = this.objects(list, bound);
    const only = arrays?.length === 1 ? arrays[0] : undefined;
    if (!only || !ts.isArrayLiteralExpression(only)) return undefined;
    const parts = only.elements.map((element) => this.of(element, bound));
    return parts.every((some) => some !== undefined) ? parts : undefined;
  }

  /** A value whose type says which few it can be. */
  private literalTypes(expression: ts.Expression): string[] | undefined {
    const type = this.checker.getTypeAtLocation(expression);
    const parts = type.isUnion() ? type.types : [type];
    const literal = parts.every((part) => part.isStringLiteral() || part.isNumberLiteral());
    return literal ? parts.map((part) => `${(part as ts.LiteralType).value as string | number}`) : undefined;
  }

  private symbolOf(node: ts.Identifier): ts.Symbol | undefined {
    const symbol = this.checker.getSymbolAtLocation(node);
    if (symbol?.valueDeclaration && ts.isShorthandPropertyAssignment(symbol.valueDeclaration)) {
      const value = this.checker.getShorthandAssignmentValueSymbol(symbol.valueDeclaration);
      return value && this.resolved(value);
    }
    return symbol && this.resolved(symbol);
  }

  private resolved(symbol: ts.Symbol): ts.Symbol {
    return symbol.flags & ts.SymbolFlags.Alias ? this.checker.getAliasedSymbol(symbol) : symbol;
  }

  private indexCalls(source: ts.SourceFile): void {
    const visit = (node: ts.Node): void => {
      if (ts.isCallExpression(node)) {
        const callee = ts.isPropertyAccessExpression(node.expression) ? node.expression.name : node.expression;
        const symbol = ts.isIdentifier(callee) && this.symbolOf(callee);
        if (symbol) this.calls.set(symbol, [...(this.calls.get(symbol) ?? []), node]);
      }
      ts.forEachChild(node, visit);
    };
    visit(source);
  }
}

function isTexts(value: ts.Expression | readonly string[]): value is readonly string[] {
  return Array.isArray(value);
}

/** Without brackets and what only the type checker reads. */
function plain(node: ts.Expression): ts.Expression {
  return ts.isParenthesizedExpression(node) ||
    ts.isAsExpression(node) ||
    ts.isSatisfiesExpression(node) ||
    ts.isNonNullExpression(node)
    ? plain(node.expression)
    : node;
}

function valuesIn(
  whole: ts.ObjectLiteralExpression | ts.ArrayLiteralExpression,
  keys: readonly string[] | undefined,
): (ts.Expression | undefined)[] {
  if (ts.isArrayLiteralExpression(whole)) return [...whole.elements];
  const named = whole.properties.map((property) => {
    const value = ts.isPropertyAssignment(property)
      ? property.initializer
      : ts.isShorthandPropertyAssignment(property)
        ? property.name
        : undefined;
    const { name } = property;
    const key = name && (ts.isIdentifier(name) || ts.isStringLiteralLike(name)) ? name.text : undefined;
    return { key, value };
  });
  return (keys ?? named.map(({ key }) => key)).map((key) => named.find((member) => member.key === key)?.value);
}

/** What a function answers, where its body is nothing but constants and returns. */
function returned(body: ts.Block): ts.Expression[] | undefined {
  const found: ts.Expression[] = [];
  const visit = (node: ts.Node): void => {
    if (ts.isFunctionLike(node)) return;
    if (ts.isReturnStatement(node) && node.expression) found.push(node.expression);
    ts.forEachChild(node, visit);
  };
  visit(body);
  return found.length > 0 ? found : undefined;
}
