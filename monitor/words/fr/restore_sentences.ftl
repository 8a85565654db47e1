bring-the-farm-back-from-a-copy-also-onto-a-bare-computer-database-settings-photos-keys =
    Faire revenir la ferme à partir d’une copie, aussi sur un ordinateur vide : base, réglages, photos, clés.
file-is-of-the-site-own-and-this-copy-of-the-site-other-nothing-was-changed-to-mend-name-another-settings-file-with-config =
    { $file } est du site { $own }, et cette copie du site { $other } ; rien n’a été changé. Remède : nommer un autre fichier de réglages avec --config
file-is-there-and-has-problems-and-nothing-was-changed-to-mend-rearing-monitor-check-says-which-or-give-everything-to-take-the-settings-of-the-copy-problems =
    { $file } est là et a des problèmes, et rien n’a été changé. Remède : `rearing-monitor check` dit lesquels ; ou donner --everything pour prendre les réglages de la copie :
    { $problems }
folder-a-restore-is-under-way-there-to-mend-wait-until-it-has-ended =
    { $folder } : un retour de copie y est en cours. Remède : attendre qu’il soit fini.
folder-the-copy-needs-needed-mb-there-and-free-mb-are-free-nothing-was-changed-to-mend-free-some-room-or-take-a-larger-card-or-disk =
    { $folder } : il faut { $needed } Mo à la copie, et { $free } Mo y sont libres ; rien n’a été changé. Remède : libérer de la place, ou prendre une carte ou un disque plus grand.
option-given-is-not-key-value =
    --option { $given } n’est pas CLÉ=VALEUR
path-cannot-be-put-in-its-place-why-and-everything-is-as-it-was-before-to-mend-let-the-user-who-restores-write-in-folder =
    { $path } ne peut pas être mis à sa place ({ $why }), et tout est comme avant. Remède : permettre à l’utilisateur qui fait revenir la copie d’écrire dans { $folder }.
place-holds-no-copy-to-mend-name-the-folder-or-address-into-which-the-copies-were-made =
    { $place } ne contient aucune copie. Remède : nommer le dossier ou l’adresse où les copies ont été faites.
put-it-in-place-without-a-question =
    Mettre en place sans question.
shows-what-is-in-the-copy-and-asks-everything-gets-into-its-place-or-nothing-does-what-was-there-is-kept-beside-it-readings-since-the-copy-come-from-the-archive-where-there-is-one-ends-with-check-and-send-test =
    Montre ce qui est dans la copie et demande. Tout va à sa place, ou rien ; ce qui était là est gardé à côté. Les mesures faites depuis viennent de l’archive, s’il y en a une. Finit par `check` et `send-test`.
take-settings-and-keys-from-the-copy-too-though-this-computer-has-its-own-those-are-kept =
    Prendre aussi les réglages et les clés de la copie, bien que cet ordinateur ait les siens ; ceux-ci sont gardés.
the-file-with-the-passphrase-that-opens-the-secrets-in-the-copy-without-it-you-are-asked =
    Le fichier avec la phrase de passe qui ouvre les secrets de la copie. Sans lui : on vous la demande.
the-file-with-the-password-at-an-address =
    Le fichier avec le mot de passe à une adresse.
there-is-no-copy-name-at-place-there-are-names =
    il n’y a pas de copie "{ $name }" à { $place } ; il y a : { $names }
these-folders-cannot-be-written-by-this-user-and-nothing-was-changed-folders-to-mend-give-the-command-with-sudo-command =
    cet utilisateur ne peut pas écrire dans ces dossiers, et rien n’a été changé : { $folders }. Remède : donner la commande avec sudo : { $command }
this-copy-holds-no-settings-and-file-is-not-there-nothing-was-changed-to-mend-write-one-with-rearing-monitor-init-or-take-that-of-another-copy-then-give-this-command-again =
    cette copie n’a pas de réglages, et { $file } n’est pas là. Rien n’a été changé. Remède : en écrire un avec `rearing-monitor init`, ou prendre celui d’une autre copie, puis redonner cette commande.
user-name-at-an-address-or-id-of-the-key-for-s3 =
    Nom d’utilisateur à une adresse, ou identifiant de la clé pour S3.
what-else-an-address-needs-as-options-of-the-copies-in-the-settings =
    Ce qu’il faut encore à une adresse, comme « options » des copies dans les réglages.
where-is-the-copy-name-the-folder-or-address-of-the-copies-such-as-example =
    où est la copie ? Nommer le dossier ou l’adresse des copies, par exemple : { $example }
where-the-copies-are-a-folder-an-address-sftp-s3-webdav-one-copy-in-it-or-a-database-file-that-was-copied =
    Où sont les copies : un dossier, une adresse (sftp://, s3://, webdav://), une copie dedans, ou un fichier de base copié.
which-of-its-copies-without-it-the-newest =
    Laquelle de ses copies. Sans elle : la plus récente.
path-this-user-may-not-restore-there-or-finish-a-restore-that-was-cut-why-to-mend-give-the-command-with-sudo-or-as-the-user-who-restored =
    { $path } : cet utilisateur ne peut ni y faire revenir une copie, ni finir un retour interrompu ({ $why }). Remède : donner la commande avec sudo, ou comme l’utilisateur qui l’avait lancée
path-is-no-database-of-this-program-and-nothing-was-changed-why-to-mend-name-a-folder-of-copies-or-a-copied-database-such-as-example =
    { $path } n’est pas une base de ce programme, et rien n’a été changé ({ $why }). Remède : nommer un dossier de copies, ou une base copiée telle que { $example }.
path-is-no-place-for-a-file-of-a-site-nothing-was-changed =
    { $path } n’est pas une place pour un fichier d’un site ; rien n’a été changé
