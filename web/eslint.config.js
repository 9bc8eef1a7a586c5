import js from '@eslint/js';
import globals from 'globals';
import a11y from 'eslint-plugin-jsx-a11y';
import hooks from 'eslint-plugin-react-hooks';
import tseslint from 'typescript-eslint';

export default tseslint.config(
  { ignores: ['node_modules', 'src/api/types.ts'] },
  js.configs.recommended,
  ...tseslint.configs.strictTypeChecked,
  a11y.flatConfigs.strict,
  {
    languageOptions: {
      globals: globals.browser,
      parserOptions: { projectService: { allowDefaultProject: ['eslint.config.js'] } },
    },
    // Components are preact's; the rules only need to know which elements ours stand for.
    settings: { 'jsx-a11y': { attributes: { for: ['for', 'htmlFor'] } } },
  },
  {
    files: ['**/*.{ts,tsx}'],
    plugins: { 'react-hooks': hooks },
    rules: {
      'react-hooks/rules-of-hooks': 'error',
      'react-hooks/exhaustive-deps': 'error',
      '@typescript-eslint/restrict-template-expressions': ['error', { allowNumber: true }],
      '@typescript-eslint/no-confusing-void-expression': ['error', { ignoreArrowShorthand: true }],
      '@typescript-eslint/no-unnecessary-condition': ['error', { allowConstantLoopConditions: true }],
      // What a server or a person wrote is text; it never becomes markup.
      'no-restricted-syntax': [
        'error',
        {
          selector: 'JSXAttribute[name.name="dangerouslySetInnerHTML"]',
          message: 'text never becomes markup',
        },
        { selector: 'MemberExpression[property.name="innerHTML"]', message: 'text never becomes markup' },
      ],
      '@typescript-eslint/no-unused-vars': ['error', { varsIgnorePattern: '^_$', argsIgnorePattern: '^_$' }],
      'no-eval': 'error',
      'no-implied-eval': 'error',
    },
  },
  {
    files: ['tools/**', 'tests/**', 'fixtures/**', '*.ts', '*.js'],
    languageOptions: { globals: globals.node },
  },
  { files: ['*.js'], ...tseslint.configs.disableTypeChecked },
);
