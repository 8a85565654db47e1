# Les photos des entrées ; au-dessous, ce qui les refuse. Le nom est la phrase anglaise.

## photo

photo-add = Ajouter une photo
photo-another = Choisir une autre photo
photo-kept = Votre photo est jointe.
photo-out = Ne pas joindre la photo
photo-no_scripts = Un JPEG d’au plus { $most } ko. Ce que l’appareil a noté du lieu et de l’heure en est retiré.
photo-scaling = La photo est réduite …
photo-ready = La photo est jointe : { $size } ko.
photo-unreadable = Cette image ne peut pas être lue sur ce téléphone, donc aucune photo n’est jointe. En choisir une autre, ou écrire sans photo.
photo-left = { $count ->
    [one] Il y a place pour une photo de plus.
   *[other] Il y a place pour { $count } photos de plus.
}
photo-full = Il n’y a plus de place pour des photos. Le propriétaire peut en faire.
photo-open = Photo
photo-of = Photo : { $what }
photo-with = Avec une photo
photo-gone = La photo a été supprimée { $at } par { $who }.
photo-lost = Le fichier de cette photo n’est plus sur l’ordinateur de la ferme. Une copie l’a peut-être.

## what refuses a photo

path-the-disk-has-no-room-left-for-a-photo-to-mend-remedy =
    { $path } : le disque n’a plus de place pour une photo. Pour y remédier : { $remedy }.
the-photo-has-width-height-dots-at-most-side-on-its-longer-side-are-taken-choose-a-smaller-one-or-write-the-entry-without-one =
    la photo a { $width } × { $height } points ; au plus { $side } sur son grand côté. En choisir une plus petite, ou écrire sans photo
the-photo-is-not-there-any-more-choose-it-again-or-write-the-entry-without-one =
    la photo n’est plus là. La choisir de nouveau, ou écrire sans photo
the-photo-is-not-whole-it-was-damaged-or-cut-off-on-its-way-choose-it-again =
    la photo n’est pas entière : elle a été abîmée ou coupée en route. La choisir de nouveau
the-photo-is-too-large-at-most-most-kb-are-taken-where-the-page-may-run-scripts-the-phone-makes-it-smaller-by-itself-else-choose-a-smaller-photo-or-write-the-entry-without-one =
    la photo est trop lourde ; au plus { $most } ko. Là où la page peut exécuter des scripts, le téléphone la réduit lui-même ; sinon en choisir une plus petite, ou écrire sans photo
there-is-no-room-for-more-photos-on-the-farm-s-computer-and-none-is-deleted-by-itself-the-entry-can-be-written-without-one-the-owner-can-make-room-in-a-terminal-rearing-monitor-photos =
    il n’y a plus de place pour des photos sur l’ordinateur de la ferme, et aucune n’est supprimée d’elle-même. On peut écrire sans photo ; le propriétaire peut faire de la place (dans un terminal : `rearing-monitor photos`)
this-is-no-photo-that-can-be-kept-jpeg-is-taken-as-cameras-of-phones-make-it-choose-another-one-or-write-the-entry-without-one =
    ce n’est pas une photo qui peut être gardée : il faut un JPEG, comme en font les téléphones. En choisir une autre, ou écrire sans photo
