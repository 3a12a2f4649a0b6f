import type { EntityManager } from 'typeorm';
import { addDays } from '../kernel/measure/day.js';
import { Channel, Customer, CustomerOrder, OrderLine } from '../orders/orders.entity.js';
import type { DemoDays } from './demo-days.js';
import type { Shelf } from './load-catalog.js';
import { CHANNELS, demoOrders } from './orders.js';

/** Channels, customers and three weeks of orders; one statement a table, since there are many. */
export async function loadOrders(tx: EntityManager, days: DemoDays, shelf: Shelf): Promise<void> {
  await tx.insert(Channel, CHANNELS);
  const orders = demoOrders();
  const customers = [...new Set(orders.map((order) => order.customer))].map((name) => tx.create(Customer, { name }));
  await tx.insert(Customer, customers);
  const customerIds = new Map(customers.map(({ name, id }) => [name, id]));
  const rows = orders.map((order) =>
    tx.create(CustomerOrder, {
      channel: order.channel,
      number: order.number,
      customerId: customerIds.get(order.customer)!,
      placedOn: addDays(days.today, -order.placedDaysAgo),
      status: order.isPaid ? 'confirmed' : 'waiting',
    }),
  );
  await tx.insert(CustomerOrder, rows);
  await tx.insert(
    OrderLine,
    orders.flatMap((order, index) =>
      order.lines.map((line) => ({
        orderId: rows[index]!.id,
        shopCode: line.item,
        occurrence: 1,
        itemId: shelf.items.get(line.item)!.id,
        quantity: line.quantity,
        shipped: 0,
        cancelled: 0,
        shipBy: addDays(days.week, order.shipByDay),
        notBefore: order.notBeforeDay === null ? null : addDays(days.week, order.notBeforeDay),
      })),
    ),
  );
}
