// The types of airbough.js over document.d.ts, which is generated from the service's own OpenAPI document.
import type { components, operations } from "./document.js";

type Json<T> = T extends { content: { "application/json": infer J } } ? J : never;
type Query<O> = O extends { parameters: { query: infer Q } } ? Q : O extends { parameters: { query?: infer Q } } ? Q : never;

/** Every question by its name: the body of a POST or the query of a GET, and the answer. */
export type Question = Exclude<keyof operations, "batches" | "live" | "ready" | "metrics">;
export type RequestOf<Q extends Question> = operations[Q] extends { requestBody: infer B } ? Json<B> : Query<operations[Q]>;
export type AnswerOf<Q extends Question> = Json<operations[Q]["responses"][200]>;
export type Schemas = components["schemas"];
export type Problem = Schemas["Problem"];

export interface Asking {
  /** The word that the path asks for, such as a fitting's type. */
  word?: string;
  signal?: AbortSignal;
}
export interface Reply<A> {
  answer: A;
  body: Uint8Array;
  status: number;
  headers: Headers;
  signature?: string;
  path: string;
  question: Uint8Array;
}
export interface Jwk { kty?: string; crv?: string; kid?: string; x?: string; [name: string]: unknown }
export type Keys = Jwk | { keys: Jwk[] };

export interface Settings {
  url: string;
  key?: string;
  keys?: Keys;
  retries?: number;
  /** Milliseconds for a call with all its tries. */
  deadline?: number;
  fetch?: typeof fetch;
  wait?: (milliseconds: number, signal?: AbortSignal) => Promise<void>;
}
export interface Line<Q extends Question = Question> { id: string; question: Q; request: RequestOf<Q> }
export type Result =
  | { id: string; status: 200; answer: AnswerOf<Question>; signature?: string; problem?: undefined }
  | { id: string | null; status: number; problem: Problem; answer?: undefined; line?: number };

export class Client {
  constructor(settings: Settings);
  ask<Q extends Question>(question: Q, request: RequestOf<Q>, options?: Asking): Promise<AnswerOf<Q>>;
  reply<Q extends Question>(question: Q, request: RequestOf<Q>, options?: Asking): Promise<Reply<AnswerOf<Q>>>;
  batch(lines: Iterable<Line>, options?: { signal?: AbortSignal }): AsyncGenerator<Result, void, undefined>;
}
export function verify(told: {
  answer: Uint8Array | string;
  question: Uint8Array | string;
  signature?: string | null;
  path: string;
  keys: Keys;
}): Promise<void>;

/** What a quote from this stock, just as it is sent, bears as `stock_digest`: SHA-256 of its RFC 8785 form, base64url. */
export function stockDigest(stock: unknown): Promise<string>;

export class AirboughError extends Error {
  readonly status?: number;
  readonly problem?: Problem;
  readonly requestId?: string;
  /** Seconds that the service asks to wait. */
  readonly retryAfter?: number;
  readonly kind?: string;
  readonly faults: NonNullable<Problem["errors"]>;
}
/** Nobody answered: no name, no connection, or an origin that the service does not allow. */
export class Unreachable extends AirboughError {}
/** The answer took longer than the deadline. */
export class TimedOut extends AirboughError {}
/** The request has no answer; the same request is refused again. */
export class Refused extends AirboughError {}
/** The service could not answer; later it may. */
export class ServerFailed extends AirboughError {}
/** What came back is no answer of this service, or a batch that broke off. */
export class NotUnderstood extends AirboughError {}
/** A signature is missing, by an unknown key, or does not hold for this question and answer. */
export class SignatureRefused extends AirboughError {}
