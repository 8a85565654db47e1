# Copies du site entier : ce qui n’a pas marché, et où. Le nom est la phrase anglaise.

copies-to-such-an-address-need-the-library-name-which-is-not-installed-to-mend-command =
    les copies vers une telle adresse demandent la bibliothèque { $name }, qui n’est pas installée. Remède : { $command }
file-does-not-hold-the-rows-that-it-should-tables =
    { $file } ne contient pas les lignes qu’il devrait ({ $tables }).
file-has-found-bytes-in-place-of-size =
    { $file } a { $found } octets au lieu de { $size }.
file-is-not-as-it-was-written =
    { $file } n’est pas tel qu’il a été écrit.
folder-a-copy-needs-needed-mb-of-room-there-and-free-mb-are-left-to-mend-delete-what-you-do-not-need-there-or-use-a-larger-stick-or-disk =
    { $folder } : une copie y demande { $needed } Mo, et il reste { $free } Mo. Remède : y supprimer ce qui ne sert pas, ou prendre une clé ou un disque plus grand.
path-is-damaged-so-this-copy-cannot-be-trusted-to-mend-use-another-copy =
    { $path } est abîmé, on ne peut donc pas se fier à cette copie. Remède : prendre une autre copie.
path-no-room-is-left-there-and-this-copy-was-thrown-away-to-mend-delete-what-you-do-not-need-there-or-use-a-larger-stick-or-disk =
    { $path } : il n’y a plus de place, et cette copie a été jetée. Remède : y supprimer ce qui ne sert pas, ou prendre une clé ou un disque plus grand.
path-the-copy-is-not-whole-faults-to-mend-use-another-copy-when-it-happens-twice-use-another-stick-or-disk =
    { $path } : la copie n’est pas entière. { $faults } Remède : prendre une autre copie ; si cela arrive deux fois, prendre une autre clé ou un autre disque.
place-does-not-take-or-give-copies-now-why-to-mend-see-whether-the-network-reaches-it-and-whether-user-password-and-folder-are-right =
    { $place } ne prend ni ne donne de copies en ce moment : { $why }. Remède : voir si le réseau y mène, et si l’utilisateur, le mot de passe et le dossier sont justes.
place-file-came-back-other-than-it-was-sent-and-this-copy-was-thrown-away-to-mend-try-again-when-it-happens-twice-use-another-place =
    { $place } : { $file } est revenu autre qu’il n’était parti, et cette copie a été jetée. Remède : réessayer ; si cela arrive deux fois, prendre un autre endroit.
place-was-not-prepared-for-copies-and-nothing-was-written-if-it-is-the-right-place-run-command =
    { $place } n’a pas été préparé pour des copies, et rien n’a été écrit. Si c’est le bon endroit, lancer : { $command }
path-cannot-be-written-why-to-mend-see-whether-the-stick-or-disk-is-locked-against-writing-or-damaged-and-whether-the-folder-belongs-to-the-user-of-the-monitor =
    { $path } ne peut pas être écrit : { $why }. Remède : voir si la clé ou le disque est verrouillé contre l’écriture ou abîmé, et si le dossier appartient à l’utilisateur du moniteur.
the-server-at-host-has-the-key-found-not-wanted-and-got-neither-password-nor-copy-to-mend-ask-whoever-runs-it-where-the-key-was-changed-on-purpose-write-the-new-one-into-host-key =
    le serveur { $host } a la clé { $found }, pas { $wanted }, et n’a reçu ni mot de passe ni copie. Remède : demander à qui le tient ; si la clé a été changée exprès, écrire la nouvelle dans host_key.
