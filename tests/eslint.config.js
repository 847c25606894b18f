import svelte from 'eslint-plugin-svelte';
import globals from 'globals';
import tseslint from 'typescript-eslint';

// Rules that find real mistakes, and none about style. Run by `npm run lint`; the house's own rules are in tests/house/.

/** Needs no types: quick, and enough for Svelte files, whose types svelte-check looks at. */
const plain = {
  'array-callback-return': 'error',
  eqeqeq: 'error',
  'no-constant-binary-expression': 'error',
  'no-constructor-return': 'error',
  'no-dupe-else-if': 'error',
  'no-dupe-keys': 'error',
  'no-duplicate-case': 'error',
  'no-empty': 'error',
  'no-fallthrough': 'error',
  'no-loss-of-precision': 'error',
  'no-self-assign': 'error',
  'no-self-compare': 'error',
  'no-sparse-arrays': 'error',
  'no-template-curly-in-string': 'error',
  'no-unmodified-loop-condition': 'error',
  'no-unreachable-loop': 'error',
  'no-unsafe-finally': 'error',
  'no-unsafe-optional-chaining': 'error',
  'no-useless-assignment': 'error',
  'no-useless-catch': 'error',
  'no-var': 'error',
  'prefer-const': 'error',
  'use-isnan': 'error',
  'valid-typeof': 'error',
};

/** For TypeScript, with or without types at hand. */
const typescript = {
  '@typescript-eslint/no-explicit-any': 'error',
  '@typescript-eslint/no-extra-non-null-assertion': 'error',
  '@typescript-eslint/no-non-null-assertion': 'error',
  '@typescript-eslint/no-unused-expressions': 'error',
  '@typescript-eslint/no-unused-vars': ['error', { argsIgnorePattern: '^_', varsIgnorePattern: '^_', ignoreRestSiblings: true }],
  '@typescript-eslint/no-wrapper-object-types': 'error',
  '@typescript-eslint/no-unsafe-function-type': 'error',
};

/** For TypeScript whose types are known. */
const typed = {
  '@typescript-eslint/await-thenable': 'error',
  '@typescript-eslint/no-array-delete': 'error',
  '@typescript-eslint/no-base-to-string': 'error',
  '@typescript-eslint/no-floating-promises': 'error',
  '@typescript-eslint/no-for-in-array': 'error',
  '@typescript-eslint/no-implied-eval': 'error',
  '@typescript-eslint/no-misused-promises': 'error',
  '@typescript-eslint/no-misused-spread': ['error', { allow: ['string'] }],
  '@typescript-eslint/no-redundant-type-constituents': 'error',
  '@typescript-eslint/no-unnecessary-type-assertion': 'error',
  '@typescript-eslint/no-unsafe-argument': 'error',
  '@typescript-eslint/no-unsafe-assignment': 'error',
  '@typescript-eslint/no-unsafe-call': 'error',
  '@typescript-eslint/no-unsafe-member-access': 'error',
  '@typescript-eslint/no-unsafe-return': 'error',
  '@typescript-eslint/only-throw-error': 'error',
  '@typescript-eslint/prefer-promise-reject-errors': 'error',
  '@typescript-eslint/require-array-sort-compare': 'error',
  '@typescript-eslint/restrict-plus-operands': 'error',
  '@typescript-eslint/return-await': ['error', 'error-handling-correctness-only'],
  '@typescript-eslint/switch-exhaustiveness-check': ['error', { considerDefaultExhaustiveForUnions: true }],
  '@typescript-eslint/unbound-method': 'error',
};

export default tseslint.config(
  { ignores: ['.build/**', '.data/**', 'node_modules/**', 'ui/dist/**'] },
  { linterOptions: { reportUnusedDisableDirectives: 'error' } },
  { files: ['**/*.{js,mjs}'], languageOptions: { globals: globals.node }, rules: { ...plain, 'no-undef': 'error', 'no-unused-vars': 'error' } },
  {
    files: ['**/*.ts'],
    ignores: ['**/*.config.ts'],
    languageOptions: { parser: tseslint.parser, parserOptions: { projectService: true } },
    plugins: { '@typescript-eslint': tseslint.plugin },
    rules: { ...plain, ...typescript, ...typed },
  },
  // What tools read by name belongs to no project of the compiler.
  { files: ['**/*.config.ts'], languageOptions: { parser: tseslint.parser }, plugins: { '@typescript-eslint': tseslint.plugin }, rules: { ...plain, ...typescript } },
  // Svelte hands over .svelte.ts modules as TypeScript too; the types of whole Svelte files cost more time than they find.
  ...svelte.configs['flat/recommended'],
  {
    files: ['**/*.svelte', '**/*.svelte.ts'],
    languageOptions: { parserOptions: { parser: tseslint.parser }, globals: globals.browser },
    plugins: { '@typescript-eslint': tseslint.plugin },
    rules: { ...plain, ...typescript, 'prefer-const': 'off', 'no-useless-assignment': 'off', 'no-unmodified-loop-condition': 'off' },
  },
  // A mock method is handed about by name; what a test reads from outside, and `expect`'s own matchers, are of type any.
  {
    files: ['tests/**/*.ts'],
    rules: {
      '@typescript-eslint/unbound-method': 'off',
      '@typescript-eslint/no-base-to-string': 'off',
      '@typescript-eslint/no-unsafe-argument': 'off',
      '@typescript-eslint/no-unsafe-assignment': 'off',
      '@typescript-eslint/no-unsafe-member-access': 'off',
      '@typescript-eslint/no-unsafe-return': 'off',
    },
  },
);
