import { describe, expect, it } from 'vitest';
import { BrokenPhoto, photoTypeOf, withoutMetadata } from '../../src/checks/photo-bytes.js';
import { exif, jpeg, jpegSegment, png, pngChunk, webp, webpChunk } from '../support/pictures.js';

const SECRET = 'lat 51.5 lon 0.1';
const secret = Buffer.from(SECRET, 'latin1');
const XMP = Buffer.from(`http://ns.adobe.com/xap/1.0/\0<x>${SECRET}</x>`, 'latin1');
const MORE = Buffer.concat([Buffer.from('more after its end '), secret]);

describe('the type of a picture', () => {
  it('is what its content begins as, whatever it is called', () => {
    expect(photoTypeOf(jpeg())).toBe('image/jpeg');
    expect(photoTypeOf(png())).toBe('image/png');
    expect(photoTypeOf(webp())).toBe('image/webp');
    for (const other of [
      '',
      'GIF89a',
      '<svg xmlns="http://www.w3.org/2000/svg"/>',
      '<html>',
      '%PDF-1.7',
      'RIFF____WAVE',
    ])
      expect(photoTypeOf(Buffer.from(other)), other).toBeUndefined();
  });
});

describe('a picture without its metadata', () => {
  it('is the same JPEG, without Exif, XMP, comments and what follows its end', () => {
    const full = Buffer.concat([
      jpeg(
        jpegSegment(0xe0, Buffer.from('JFIF\0\x01\x01\0\0\x01\0\x01\0\0', 'latin1')),
        exif(1, true, SECRET),
        jpegSegment(0xe1, XMP),
        jpegSegment(0xed, secret),
        jpegSegment(0xfe, secret),
        jpegSegment(0xe2, Buffer.from('ICC_PROFILE\0\x01\x01profile', 'latin1')),
      ),
      MORE,
    ]);
    const plain = withoutMetadata(full, 'image/jpeg');
    expect(plain.includes(secret)).toBe(false);
    expect(plain.includes('ICC_PROFILE')).toBe(true);
    expect(plain.includes('JFIF')).toBe(true);
    expect(withoutMetadata(jpeg(exif(1, false, SECRET)), 'image/jpeg')).toEqual(jpeg());
  });

  it.each([
    ['little', true],
    ['big', false],
  ])('stays turned as it was, written %s end first', (_, isLittle) => {
    const plain = withoutMetadata(jpeg(exif(6, isLittle, SECRET)), 'image/jpeg');
    expect(plain.includes(secret)).toBe(false);
    const at = plain.indexOf('Exif');
    expect(at).toBe(6);
    expect(plain.readUInt16BE(at + 6 + 18)).toBe(6);
    // said once more, it is the same
    expect(withoutMetadata(plain, 'image/jpeg')).toEqual(plain);
  });

  it('is the same PNG and WebP', () => {
    const text = pngChunk('tEXt', Buffer.from(`Comment\0${SECRET}`, 'latin1'));
    const full = Buffer.concat([png(text, pngChunk('eXIf', secret), pngChunk('tIME', Buffer.alloc(7))), MORE]);
    expect(withoutMetadata(full, 'image/png')).toEqual(png());
    expect(withoutMetadata(png(pngChunk('gAMA', Buffer.alloc(4))), 'image/png')).toEqual(
      png(pngChunk('gAMA', Buffer.alloc(4))),
    );
    const plain = withoutMetadata(
      Buffer.concat([webp(webpChunk('EXIF', secret), webpChunk('XMP ', XMP)), MORE]),
      'image/webp',
    );
    expect(plain.includes(secret)).toBe(false);
    expect(plain.length).toBe(webp().length);
    expect(plain.readUInt32LE(4)).toBe(plain.length - 8);
    expect(plain[20]).toBe(0);
  });

  it.each([
    ['image/jpeg', jpeg(exif(3, true, SECRET))],
    ['image/png', png(pngChunk('tEXt', secret))],
    ['image/webp', webp(webpChunk('EXIF', secret))],
  ] as const)('is refused cut off anywhere: %s', (type, whole) => {
    for (let length = 12; length < whole.length; length++)
      expect(() => withoutMetadata(whole.subarray(0, length), type), `${length}`).toThrow(BrokenPhoto);
  });
});
