// Every word on the page. A translation is a file like this one, of the same shape.

export const text = {
  sheet: { close: "Close", back: "Back" },
  verdict: { served: "Served", doubtful: "Doubtful", unserved: "Unserved" },
} as const;
