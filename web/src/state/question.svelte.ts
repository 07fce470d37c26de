// What the person is asking about: one question at a time.

export type Place = { readonly longitude_deg: number; readonly latitude_deg: number };

export type Question =
  | { readonly about: "network" }
  | { readonly about: "premises"; readonly id: string }
  | { readonly about: "sector"; readonly id: string }
  | { readonly about: "mast"; readonly id: string }
  | { readonly about: "place"; readonly place: Place }
  | { readonly about: "ledger" }
  | { readonly about: "findings" }
  | { readonly about: "bring_in" }
  | { readonly about: "take_out" };

class Asked {
  current = $state.raw<Question>({ about: "network" });
  private before: Question[] = [];

  ask(question: Question): void {
    this.before = [...this.before.slice(-19), this.current];
    this.current = question;
  }

  /** Back to the question before this one. */
  back(): void {
    this.current = this.before.pop() ?? { about: "network" };
  }

  close(): void {
    this.before = [];
    this.current = { about: "network" };
  }
}

export const asked = new Asked();
