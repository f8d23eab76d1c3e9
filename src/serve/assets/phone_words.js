// Words about who may touch. Another language is another copy of this file.

export const phoneWords = {
  title: "skimwatch: this phone",
  look: "LOOK ONLY. Dashed buttons need a crew phone.",
  closed: "ONLY CREW PHONES may look here.",
  out: "THIS PHONE WAS TAKEN OUT: it is crew no more. Dashed buttons need a crew phone.",
  join: "JOIN",
  keeperOnly: "Dashed here: a keeper's phone changes this.",
  foot: {
    open: "Nothing is locked: everybody on this network may touch.",
    joined: (name, role) => `This phone is ${name}, ${phoneWords.roles[role]}.`,
    stranger: "This phone may only look.",
    link: "WHO MAY TOUCH",
  },
  roles: { crew: "crew", keeper: "keeper" },
};
