"""Jobs by the thousand: summaries that are listed, filtered, searched and counted, and a shop's one archive of them.

`jobs.db` is the truth; what stands here is made of it and can be made again.
"""
