// What pages give that the checker cannot know. An element found by a selector may be a field, a form or a button: its
// own members are taken as they come, their names are checked.

interface Element {
  value: any; dataset: any; hidden: any; checked: any; elements: any; open: any; form: any; style: any; type: any;
  disabled: any; readOnly: any; files: any; options: any; href: any; content: any; name: any; labels: any;
  selectionStart: any; selectionEnd: any; offsetHeight: any; offsetTop: any; title: any; src: any; currentTime: any;
  focus(options?: any): void; blur(): void; click(): void; select(): void; showModal(): void; close(): void;
  submit(): void; requestSubmit(button?: any): void; reset(): void; setSelectionRange(from: number, to: number): void;
  setCustomValidity(text: string): void; reportValidity(): boolean; play(): Promise<void>; pause(): void;
  inputMode: any; offsetParent: any; innerText: any; selectedOptions: any; selectedIndex: any; isContentEditable: any;
}

interface EventTarget {
  closest: any; matches: any; dataset: any; value: any; checked: any; tagName: any; form: any; files: any; name: any;
  id: any; isContentEditable: any; method: any; action: any; hasAttribute: any; type: any; parentElement: any; elements: any; result: any; hidden: any; classList: any;
  querySelector: any; open: any; textContent: any; error: any; getAttribute: any; focus: any;
}

interface Event {
  key: any; detail: any; ctrlKey: any; metaKey: any; altKey: any; shiftKey: any; code: any; repeat: any;
  clientX: any; clientY: any; pointerId: any; button: any; data: any; submitter: any; persisted: any; touches: any;
  waitUntil(work: Promise<unknown>): void; respondWith(answer: any): void; request: any; clientId: any; source: any;
}

interface HTMLElement { action: any; }

interface Window { htmx: any; webauthnJSON: any; skipWaiting: any; clients: any; }

interface Navigator { connection: any; }

// The service worker's file is put together by the site: these stand before it.
declare const VERSION: string;
declare const FILES: string[];

// The runner of tests/js.
declare const Deno: { test(name: string, act: () => void | Promise<void>): void };
