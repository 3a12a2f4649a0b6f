/**
 * SQL: whether what goes into a parcel burns easily, given the alias of its item: the item itself, or a set by what its
 * formulas put into it. Of a set nobody put together here, such as one counted into an opening stock, nothing else tells.
 */
export const flammable = (item: string): string =>
  `(${item}.flammable or (${item}.kind = 'set' and exists (select from formula f
      join formula_line fl on fl.formula_id = f.id join item part on part.id = fl.item_id
      where f.item_id = ${item}.id and not f.withdrawn and part.flammable)))`;
