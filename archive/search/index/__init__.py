"""The search index: a rebuildable folder beside the records, which follows their change log by itself.

    index/lock              held by whoever writes the index; the system lets go of it when a process dies
    index/state             what the index has seen, and how to know its files again
    index/<generation>/     the library's files: a shelf each for subjects, loose photos and visits

The library unpickles what it opens, so nothing is opened that this program did not write here itself:
`state` is signed with a key that never leaves this person's account on this machine, and names the
folder and the size and times of every file. Whatever does not fit is not looked at but made anew.
A new index grows in a folder of its own and takes the old one's place at the end.

`held` is what a search asks; `home` is a folder that an index lies in; `state` and `signing` tell whether it may be
opened, `shelf` reads what `writing` has written.
"""

from archive.search.index.held import distrust, let_go, up_to_date_index

__all__ = ["distrust", "let_go", "up_to_date_index"]
