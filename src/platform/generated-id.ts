import { PrimaryGeneratedColumn } from 'typeorm';

/** The key the database counts up. Named `bigint`, TypeORM would hand it back as text after an insert. */
export const GeneratedId = (): PropertyDecorator => PrimaryGeneratedColumn({ type: 'int8' });
