import { RequestMethod } from '@nestjs/common';
import { METHOD_METADATA, PATH_METADATA } from '@nestjs/common/constants.js';
import { ModulesContainer } from '@nestjs/core';
import type { NestFastifyApplication } from '@nestjs/platform-fastify';

/** Every route of the application that is no program's: `GET /trace/:code`. */
export function pageRoutes(app: NestFastifyApplication): { method: string; path: string }[] {
  const controllers = [...app.get(ModulesContainer).values()].flatMap(({ controllers: own }) => [...own.values()]);
  return controllers
    .flatMap(({ metatype }) => {
      const type = metatype as new () => object;
      const start = Reflect.getMetadata(PATH_METADATA, type) as string;
      return Object.values(Object.getOwnPropertyDescriptors(type.prototype)).flatMap(({ value }) => {
        if (typeof value !== 'function' || !Reflect.hasMetadata(METHOD_METADATA, value)) return [];
        const method = RequestMethod[Reflect.getMetadata(METHOD_METADATA, value) as number]!;
        const path = `/${start}/${Reflect.getMetadata(PATH_METADATA, value) as string}`;
        return [{ method, path: path.replaceAll(/\/+/g, '/').replace(/(.)\/$/, '$1') }];
      });
    })
    .filter(({ path }) => !/^\/(api|health|metrics|calendar)(\/|$)/.test(path));
}
