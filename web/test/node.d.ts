// The little of Node.js that the tests use, and the golden files as the bundler gives them.
declare module "node:test" {
  export default function test(name: string, run: () => void): void;
}

declare module "node:assert/strict" {
  const assert: {
    equal(got: unknown, want: unknown, why?: string): void;
    deepEqual(got: unknown, want: unknown, why?: string): void;
    ok(value: unknown, why?: string): void;
    throws(run: () => void, like?: RegExp): void;
  };
  export default assert;
}

declare module "*.bin" {
  const bytes: Uint8Array;
  export default bytes;
}
