// What holds our own scripts. eslint refuses what does not parse before any rule is asked.
import js from "@eslint/js";
import globals from "globals";

const rules = {
  ...js.configs.recommended.rules,
  "no-undef": "error",
  "no-unused-vars": "error",
  "no-var": "error",
  "prefer-const": "error",
  eqeqeq: "error",
  "max-len": ["error", { code: 100 }],
};

const pages = { ecmaVersion: 2023, globals: globals.browser };

export default [
  { linterOptions: { reportUnusedDisableDirectives: "error" } },
  {
    files: ["*/static/**/*.js"],
    languageOptions: { ...pages, sourceType: "script" },
    rules,
  },
  {
    files: ["inspections/static/inspections/field/*.js"],
    languageOptions: { ...pages, sourceType: "module" },
    rules,
  },
  {
    // The view puts FIELD before the service worker, and sendAll where workers know modules.
    files: ["inspections/static/inspections/fieldworker.js"],
    languageOptions: {
      ecmaVersion: 2023,
      sourceType: "script",
      globals: { ...globals.serviceworker, FIELD: "readonly", sendAll: "readonly" },
    },
    rules,
  },
];
